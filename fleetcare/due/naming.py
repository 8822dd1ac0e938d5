"""Finding a service line by what somebody calls it."""

from __future__ import annotations

from fleetcare.due.outlook import LineOutlook, VehicleOutlook
from fleetcare.errors import BadInput, NotFound
from fleetcare.language import saying


def line_called(outlook: VehicleOutlook, text: str) -> LineOutlook:
    """The line of this vehicle with that key, title, short name or service; `component/service` settles a tie.

    Raises NotFound with the nearest name, BadInput if it fits several lines alike.
    """
    wanted = text.strip().casefold()
    exact = [line for line in outlook.lines if wanted in _names(line)]
    within = exact or [line for line in outlook.lines if any(wanted and wanted in name for name in _names(line))]
    if len(within) == 1:
        return within[0]
    if within:
        keys = ", ".join(f"{line.key.component}/{line.key.service}" for line in within)
        raise BadInput(
            saying("{name} has several services like that.", name=outlook.vehicle.name),
            remedy=saying("Name one of them: {keys}.", keys=keys),
        )
    raise NotFound(
        saying("service on {name}", name=outlook.vehicle.name),
        text,
        [n for line in outlook.lines for n in _spoken(line)],
    )


def _spoken(line: LineOutlook) -> tuple[str, ...]:
    return (line.row.short, line.row.title, line.key.service)


def _names(line: LineOutlook) -> tuple[str, ...]:
    component = line.component.title.casefold()
    return (
        str(line.key).casefold(),
        f"{line.key.component}/{line.key.service}".casefold(),
        line.key.service.casefold(),
        line.row.short.casefold(),
        line.row.title.casefold(),
        f"{component}, {line.row.short.casefold()}",
        f"{component} {line.row.short.casefold()}",
    )
