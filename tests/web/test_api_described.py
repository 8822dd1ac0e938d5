"""The API against its own description: whatever fits or does not fit it, nothing stumbles, and answers are as said.

The full run has some ten thousand examples: FLEETCARE_API_EXAMPLES=1000 .venv/bin/python -m pytest
tests/web/test_api_described.py
"""

from __future__ import annotations

import os
from typing import Any

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.web.conftest import Served

EXAMPLES = int(os.environ.get("FLEETCARE_API_EXAMPLES", "20"))
CHECKS = (not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance)


def test_every_route_answers_as_it_is_described(shared: Served, client: httpx.Client) -> None:
    described = client.get(f"{shared.url}/api/openapi.json").json()
    schema = schemathesis.openapi.from_dict(described)
    schema.config.base_url = shared.url
    headers = shared.bearer("ines")
    routes = _routes(schema)
    assert len(routes) >= 6
    for route in routes:

        @settings(
            max_examples=EXAMPLES,
            deadline=None,
            database=None,
            derandomize=True,
            phases=(Phase.explicit, Phase.generate),
            suppress_health_check=list(HealthCheck),
        )
        @given(case=route.as_strategy())
        def answers(case: schemathesis.Case[Any]) -> None:
            response = case.call(headers=headers, timeout=20)
            case.validate_response(response, checks=list(CHECKS))

        answers()


def test_a_route_that_stumbles_would_be_noticed(shared: Served, client: httpx.Client) -> None:
    """The guard can fail: a description that promises another shape is found out."""
    described = client.get(f"{shared.url}/api/openapi.json").json()
    vehicles = described["paths"]["/api/vehicles"]["get"]["responses"]["200"]
    vehicles["content"] = {"application/json": {"schema": {"type": "string"}}}
    described["paths"] = {"/api/vehicles": described["paths"]["/api/vehicles"]}
    schema = schemathesis.openapi.from_dict(described)
    schema.config.base_url = shared.url
    (route,) = _routes(schema)
    response = route.Case().call(headers=shared.bearer("ines"), timeout=20)
    with pytest.raises(BaseExceptionGroup) as caught:
        route.Case().validate_response(response, checks=[response_schema_conformance])
    assert [type(one).__name__ for one in caught.value.exceptions] == ["JsonSchemaError"]


def _routes(schema: Any) -> list[Any]:
    """Every operation that is described; one that cannot be read fails the test."""
    return [found.ok() for found in schema.get_all_operations()]
