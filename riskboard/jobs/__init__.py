"""One function for each thing a person does. The page, the command line and the Python API are three thin callers.

This package alone touches the store. It reads no clock: time and identity are passed in; authority is asked of
``people.authority``; decisions come from ``assessment``.
"""

from riskboard.jobs.briefing import Briefing, Start, begin_draft, brief, decide, save_entries
from riskboard.jobs.drafting import choose, decoded, paste_report, plan_take_off, say, unsay
from riskboard.jobs.office import (
    Office,
    Person,
    document,
    documents,
    load_demo_school,
    open_office,
    people,
    person,
    policy_book,
    policy_for,
    prepared_policy,
    school,
)
from riskboard.jobs.records import (
    Rechecked,
    RecheckFinding,
    export_log,
    flight_state,
    latest_entries,
    log_entries,
    recheck,
    signed_records,
    verify_log,
)
from riskboard.jobs.signing import (
    ATTESTATION,
    NotSignedError,
    Signature,
    Signed,
    accept,
    decline,
    request_sign_off,
)

__all__ = [
    "ATTESTATION",
    "Briefing",
    "NotSignedError",
    "Office",
    "Person",
    "RecheckFinding",
    "Rechecked",
    "Signature",
    "Signed",
    "Start",
    "accept",
    "begin_draft",
    "brief",
    "choose",
    "decide",
    "decline",
    "decoded",
    "document",
    "documents",
    "export_log",
    "flight_state",
    "latest_entries",
    "load_demo_school",
    "log_entries",
    "open_office",
    "paste_report",
    "people",
    "person",
    "plan_take_off",
    "policy_book",
    "policy_for",
    "prepared_policy",
    "recheck",
    "request_sign_off",
    "save_entries",
    "say",
    "school",
    "signed_records",
    "unsay",
    "verify_log",
]
