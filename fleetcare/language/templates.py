"""What templates look texts up with: the functions of gettext as Jinja's i18n extension takes them."""

from __future__ import annotations

from typing import Any

from fleetcare.language import in_force


def say_in_language(environment: Any) -> None:
    """Gives a Jinja environment, made with its i18n extension, `_()` and its kin, and `lang()`.

    The language is asked for whenever a template is rendered, never when it is read.
    """
    environment.install_gettext_callables(
        gettext=lambda text: in_force().said(text),
        ngettext=lambda one, more, count: in_force().said_of(one, more, count),
        newstyle=True,
        pgettext=lambda context, text: in_force().said(text, context),
    )
    environment.globals["lang"] = lambda: in_force().code
