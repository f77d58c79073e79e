"""The ten risks of OWASP (API Security Top 10, 2023): which tests stand against each, or why none does."""

import ast
from pathlib import Path

import pytest

HERE = Path(__file__).parents[1]
RISKS: dict[str, tuple[str, ...]] = {
    "API1:2023 Broken Object Level Authorization": (
        "web/test_every_route.py::test_every_line_lets_in_whom_it_says_and_nobody_else",
        "web/test_every_route.py::test_no_list_shows_what_is_somebody_elses",
    ),
    "API2:2023 Broken Authentication": (
        "web/test_every_route.py::test_every_line_lets_in_whom_it_says_and_nobody_else",
        "members/test_members.py::test_a_token_is_kept_as_a_hash_only",
        "members/test_members.py::test_a_token_ends_when_it_says_so",
        "members/test_members.py::test_a_revoked_token_ends_at_once_and_the_others_stay",
        "members/test_members.py::test_a_member_ends_a_lost_token_and_then_the_one_that_is_sent",
        "members/test_members.py::test_a_rotated_token_keeps_scope_and_end_and_the_old_one_ends_soon",
        "members/test_members.py::test_a_token_nobody_has_costs_as_much_as_a_wrong_secret",
        "web/test_allowances.py::test_tokens_and_addresses_have_allowances_of_their_own",
    ),
    "API3:2023 Broken Object Property Level Authorization": (
        "web/test_every_route.py::test_a_body_that_is_none_is_refused",  # unknown fields among it
        "web/test_contract_holds.py::test_every_answer_is_one_the_contract_documents",
        "members/test_members.py::test_a_coordinator_sees_every_token_and_no_secret",
    ),
    "API4:2023 Unrestricted Resource Consumption": (
        "web/test_allowances.py::test_a_batch_of_checks_costs_as_much_as_its_checks",
        "web/test_arrivals.py::test_slow_bodies_take_no_place_and_are_sent_away_in_time",
        "web/test_arrivals.py::test_who_does_not_read_the_answer_takes_no_place",
        "web/test_connections.py::test_too_many_that_wait_make_room_the_longest_first",
        "web/test_connections.py::test_a_head_that_does_not_arrive_ends_its_connection_and_a_good_one_stays",
        "web/test_every_route.py::test_a_body_that_is_too_large_is_refused_announced_or_not",
        "web/test_gate.py::test_who_finds_no_room_to_wait_is_told_at_once",
        "web/test_pages.py::test_a_limit_is_one_to_two_hundred",
        "core/test_written_lines.py::test_any_line_is_read_within_a_second",
    ),
    "API5:2023 Broken Function Level Authorization": (
        "web/test_every_route.py::test_every_route_has_its_line_and_asks_for_what_the_line_says",
        "web/test_every_route.py::test_every_line_lets_in_whom_it_says_and_nobody_else",
    ),
    "API6:2023 Unrestricted Access to Sensitive Business Flows": (
        "bookings/test_fair_use.py::",
        "bookings/test_waiting.py::",
    ),
    "API8:2023 Security Misconfiguration": (
        "web/test_security_headers.py::test_every_answer_says_what_a_browser_may_do_with_it",
        "web/test_problems.py::test_a_fault_of_ours_shows_nothing_of_itself",
        "web/test_arrivals.py::test_a_body_that_may_end_in_two_places_ends_the_connection",
        "web/test_repeats.py::test_one_request_has_one_key",
        "web/test_allowances.py::test_only_a_trusted_proxy_says_whose_request_it_is",
        "web/test_every_route.py::test_allow_lists_every_method_of_the_path",
    ),
    "API9:2023 Improper Inventory Management": (
        "test_contract.py::test_the_committed_contract_is_the_services_own",
        "web/test_every_route.py::test_every_route_has_its_line_and_asks_for_what_the_line_says",
    ),
}
REASONS = {
    "API7:2023 Server Side Request Forgery": "The service fetches nothing: no route takes an address to call, and no"
    " module of it but the demo's tour imports an HTTP client.",
    "API10:2023 Unsafe Consumption of APIs": "The service calls no other one: what it knows of others is in files that"
    " the loader checks row by row.",
}
CLIENTS = {"httpx", "requests", "urllib.request", "http.client", "aiohttp", "urllib3", "socket", "smtplib", "ftplib"}
MAY_CALL = {"demo/filling.py", "demo/tour.py"}
ENDS_WHAT_CAME = {"web/connections.py"}  # its sockets are those of callers


def test_each_of_the_ten_has_its_tests_or_its_reason():
    assert sorted(int(risk[3:].split(":")[0]) for risk in (*RISKS, *REASONS)) == list(range(1, 11))


@pytest.mark.parametrize("named", sorted({each for tests in RISKS.values() for each in tests}))
def test_a_test_that_is_named_is_there(named):
    path, _, name = named.partition("::")
    tree = ast.parse((HERE / path).read_text(encoding="utf-8"))
    names = [each.name for each in tree.body if isinstance(each, ast.FunctionDef) and each.name.startswith("test_")]
    assert name in names or (not name and names)


def test_nothing_here_calls_anything_elsewhere():
    """What both reasons rest on."""
    calling = set()
    service = HERE.parent / "service"
    for path in service.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            imported = {each.name for each in node.names} if isinstance(node, ast.Import) else set()
            imported |= {node.module or ""} if isinstance(node, ast.ImportFrom) else set()
            if imported & CLIENTS:
                calling.add(str(path.relative_to(service)))
    assert calling <= MAY_CALL | ENDS_WHAT_CAME
