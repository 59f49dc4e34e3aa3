"""The mail about an inspection, as a file that a mail program opens to be looked at, addressed and sent by the user.

Nothing is sent from here. The file is a message by RFC 5322 with the report attached; "X-Unsent: 1" has programs that
know it open the file as a draft.
"""

from __future__ import annotations

from collections.abc import Sequence
from email.message import EmailMessage
from email.policy import SMTP

from voice.desk.data.listed import listed
from voice.desk.wording import words
from voice.judge.wording import level_words
from voice.logbook.history import date
from voice.measure.level import NAMES
from voice.record.model import Certification, InspectionRecord


def subject(record: InspectionRecord) -> str:
    text = words("office")["mail"]["subject"].format(unit=record.vehicle.name, date=date(record.started))
    return " ".join(text.split())  # one line: it is a header


def body(record: InspectionRecord, given: Sequence[Certification] = ()) -> str:
    """What the report found, in short, and that a qualified person decides.

    given: certifications since.
    """
    text = words("office")["mail"]
    findings = listed(record, given)
    lines = [
        text["opening"].format(
            unit=record.vehicle.name,
            id=record.vehicle.id,
            date=date(record.started),
            driver=record.driver or text["no_driver"],
        ),
        "",
    ]
    for name in reversed(NAMES):
        if some := [each for each in findings if each.level == name]:
            lines += [f"{level_words(name, capital=True)}: {len(some)}"]
            lines += [f"- {each.title}{f'; {each.certified}' if each.certified else ''}" for each in some]
    if not findings:
        lines.append(text["nothing"])
    lines += ["", text["attached"].format(record=record.id), "", text["decides"]]
    return "\n".join(lines) + "\n"


def message(record: InspectionRecord, pdf: bytes, file: str, given: Sequence[Certification] = ()) -> bytes:
    """The whole message with the report attached, without addresses.

    file: the attachment's name.
    given: certifications since.
    """
    mail = EmailMessage(policy=SMTP)
    mail["Subject"] = subject(record)
    mail["X-Unsent"] = "1"
    mail.set_content(body(record, given))
    mail.add_attachment(pdf, maintype="application", subtype="pdf", filename=file)
    return mail.as_bytes()
