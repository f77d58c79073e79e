"""The route of the audit trail."""

from service.audit import bodies, store
from service.web import Coordinator, Page, Reading, Routes, problems
from service.web.types import Id

router = Routes("/v1/audit-entries", "audit")


@router.get("", responses=problems(403))
def list_audit_entries(
    caller: Coordinator, session: Reading, page: Page, member_id: Id | None = None
) -> bodies.AuditList:
    """List who did what in the kitchen, newest first; or what one member did."""
    after = page.after(int)
    rows = store.page(session, caller.kitchen_id, member_id, after[0] if after else None, page.limit)
    items, next_cursor = page.page(rows, place=lambda row: (row.number,))
    return bodies.AuditList(
        items=tuple(bodies.AuditAnswer.model_validate(row) for row in items), next_cursor=next_cursor
    )
