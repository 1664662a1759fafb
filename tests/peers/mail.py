"""Notices by e-mail as another reader sees them: the messages that the mail tests hand over on loopback, parsed by Python's
email package by its strictest policy (RFC 5322, RFC 2045), with the ways to stop of RFC 8058 and RFC 2369."""

import email.policy
import email.utils
import os
import pathlib
import re
import subprocess
import sys
import tempfile
from urllib.parse import urlsplit

ROOT = pathlib.Path(__file__).resolve().parents[2]


def letters():
    with tempfile.TemporaryDirectory() as folder:
        environment = dict(os.environ, BROWLINE_LETTERS=folder)
        command = ["cargo", "test", "-q", "--test", "it", "--", "mail::", "--skip", "postgres", "--test-threads=1"]
        ran = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
        if ran.returncode:
            print(ran.stdout[-2000:], ran.stderr[-2000:])
            sys.exit(3)
        return [path.read_bytes() for path in sorted(pathlib.Path(folder).glob("*.eml"))]


def wrong(raw):
    policy = email.policy.SMTP.clone(raise_on_defect=True)
    message = email.message_from_bytes(raw, policy=policy)
    body = message.get_content()
    checks = {
        "one of each": all(len(message.get_all(name, [])) == 1 for name in ("From", "To", "Subject", "Date", "Message-ID", "MIME-Version")),
        "no defects": not message.defects and all(not message[name].defects for name in ("From", "To", "Subject", "Date")),
        "one sender with a name": len(message["From"].addresses) == 1 and message["From"].addresses[0].display_name == "Larkspur Valley Kestrels",
        "a date": message["Date"].datetime.year == 2026,
        "an id": re.fullmatch(r"<[0-9a-f]+@kestrels\.example>", message["Message-ID"]) is not None,
        "text in UTF-8": message.get_content_type() == "text/plain" and message.get_content_charset() == "utf-8",
        "accents survive": "está" in body,
        "short lines": all(len(line) <= 998 for line in raw.split(b"\r\n")),
        "RFC 8058": message["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click",
        "RFC 2369": urlsplit(message["List-Unsubscribe"].strip().strip("<>")).scheme == "https",
        "RFC 3834": message["Auto-Submitted"] == "auto-generated",
        "no diagnosis": not re.search(r"conmoci|cabeza|concussion|headache", body + message["Subject"], re.I),
    }
    return [name for name, good in checks.items() if not good]


def main():
    all_letters = letters()
    if not all_letters:
        print("no message was handed over")
        return 3
    differ = {name for raw in all_letters for name in wrong(raw)}
    print(f"{len(all_letters)} messages: {'differs: ' + ', '.join(sorted(differ)) if differ else 'as the standards say'}")
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main())
