"""The mail about an inspection, as a file that a mail program opens to be looked at, addressed and sent by the user.

Nothing is sent from here. The file is a message by RFC 5322 with the report attached; "X-Unsent: 1" has programs that
know it open the file as a draft.
"""

from __future__ import annotations

from email.message import EmailMessage
from email.policy import SMTP

from voice.desk.wording import words
from voice.judge.wording import level_words
from voice.logbook.history import date
from voice.measure.level import NAMES
from voice.record.model import InspectionRecord


def subject(record: InspectionRecord) -> str:
    text = words("office")["mail"]["subject"].format(unit=record.vehicle.name, date=date(record.started))
    return " ".join(text.split())  # one line: it is a header


def body(record: InspectionRecord) -> str:
    """What the report found, in short, and that a qualified person decides."""
    text = words("office")["mail"]
    counts = {name: sum(defect.level == name for defect in record.defects) for name in reversed(NAMES)}
    lines = [
        text["opening"].format(
            unit=record.vehicle.name,
            id=record.vehicle.id,
            date=date(record.started),
            driver=record.driver or text["no_driver"],
        ),
        "",
    ]
    for name, count in counts.items():
        if count:
            lines += [f"{level_words(name, capital=True)}: {count}"]
            lines += [f"- {defect.title}" for defect in record.defects if defect.level == name]
    if not record.defects:
        lines.append(text["nothing"])
    lines += ["", text["attached"].format(record=record.id), "", text["decides"]]
    return "\n".join(lines) + "\n"


def message(record: InspectionRecord, pdf: bytes, file: str) -> bytes:
    """The whole message with the report attached, without addresses.

    file: the attachment's name.
    """
    mail = EmailMessage(policy=SMTP)
    mail["Subject"] = subject(record)
    mail["X-Unsent"] = "1"
    mail.set_content(body(record))
    mail.add_attachment(pdf, maintype="application", subtype="pdf", filename=file)
    return mail.as_bytes()
