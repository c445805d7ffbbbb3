"""What is said of a sheet's approval."""

from turncheck.plain import listed
from turncheck.sheet.approval import ApprovalState


def approval_words(approval: ApprovalState) -> str:
    """Return whether a sheet is approved as it is, a sentence; '' where nobody approved it.

    Examples
    --------
    >>> approval_words(ApprovalState("valid", (), "art lead", "2026-11-26T10:00:00+00:00"))
    'Approved by art lead on 2026-11-26.'
    >>> approval_words(ApprovalState("stale", ("the side drawing",), "art lead", "2026-11-26"))
    'The approval by art lead of 2026-11-26 no longer holds: the side drawing has changed since.'
    """
    if approval.state == "none":
        return ""
    day = approval.at[:10]
    if approval.state == "valid":
        return f"Approved by {approval.by} on {day}."
    if not approval.by:
        return f"The approval holds no more: {listed(approval.changed)}."
    has = "has" if len(approval.changed) == 1 else "have"
    return (
        f"The approval by {approval.by} of {day} no longer holds: "
        f"{listed(approval.changed)} {has} changed since."
    )
