"""The calendar feed against PyPI icalendar, and repeats that staff set against python-dateutil. Exits 1 on a difference.

    python tests/peers/feed.py [--crate DIR] [--seed N] [--cases N]

feed     what the library writes is read back by icalendar: every entry, every character, and the form that RFC 5545 asks
         for (folded at 75 octets, CR LF, required properties once).
repeats  python-dateutil expands rules on local time without a zone, and zoneinfo (fold 0) places what it gives: RFC 5545
         section 3.3.5 with erratum 4271.
"""

import argparse
import random
import sys
from datetime import date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import icalendar
from dateutil.rrule import rrulestr

from ask import ask

NOW = "2026-09-01T12:00:00Z"
WORDS = ["Kit 2", "goes, with", "nine; helmets", "back\\slash", "Ñandú", "needle: long", "\"quoted\"", "😀", "x" * 90, "line\nbreak", "á" * 40]
ZONES = ["America/New_York", "America/Chicago", "America/Phoenix", "Europe/Madrid", "UTC"]
DAYS = ["MO", "TU", "WE", "TH", "FR", "SA", "SU"]


def utc(moment):
    return moment.astimezone(timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")


def some_coming(chance, number):
    words = lambda most: " ".join(chance.choice(WORDS) for _ in range(chance.randint(1, most)))
    entry = {"key": f"kit/{number}", "title": words(4).replace("\n", " ")}
    if chance.random() < 0.7:
        entry["what"] = words(12)
    if chance.random() < 0.5:
        entry["place"] = words(3).replace("\n", " ")
    moment = datetime(2026, 9, 1, tzinfo=timezone.utc) + timedelta(minutes=chance.randint(0, 200_000))
    if chance.random() < 0.5:
        entry["day"] = moment.date().isoformat()
    else:
        entry["at"] = utc(moment)
        if chance.random() < 0.5:
            entry["end"] = utc(moment + timedelta(minutes=chance.randint(1, 300)))
    return entry


def wrong_form(text):
    lines = text.split("\r\n")
    if lines.pop() != "" or any("\n" in line or "\r" in line for line in lines):
        return "lines do not end with CR LF"
    if any(len(line.encode()) > 75 for line in lines):
        return "a line is longer than 75 octets"
    return None


def feed_differs(question, text):
    wrong = wrong_form(text)
    if wrong:
        return wrong
    read = icalendar.Calendar.from_ical(text)
    if str(read["VERSION"]) != "2.0" or "PRODID" not in read or str(read["NAME"]) != "Larkspur; Valley, \\High":
        return f"the calendar's own properties: {dict(read)}"
    entries = {str(entry["UID"]): entry for entry in read.walk("VEVENT")}
    if len(entries) != len(question["coming"]):
        return f"{len(question['coming'])} written and {len(entries)} read"
    for wanted in question["coming"]:
        entry = entries[f"{wanted['key']}@larkspur.browline"]
        if entry.errors:
            return f"{entry.errors}"
        got = (str(entry["SUMMARY"]), str(entry.get("DESCRIPTION", "")), str(entry.get("LOCATION", "")))
        if got != (wanted["title"], wanted.get("what", ""), wanted.get("place", "")):
            return f"{wanted} was read as {got}"
        start, stamp = entry["DTSTART"].dt, entry["DTSTAMP"].dt
        if utc(stamp) != NOW:
            return f"stamped {stamp}"
        if "day" in wanted:
            if type(start) is not date or start.isoformat() != wanted["day"]:
                return f"{wanted} begins {start!r}"
        elif utc(start) != wanted["at"] or utc(entry["DTEND"].dt) != wanted.get("end", utc(start + timedelta(hours=1))):
            return f"{wanted} lasts {start} to {entry['DTEND'].dt}"
    return None


def repeat_case(chance):
    """A rule, the zone, the span, and the times that python-dateutil gives."""
    zone = chance.choice(ZONES)
    start = datetime(2026, 1, 1) + timedelta(days=chance.randint(0, 200), hours=chance.choice([1, 2, 3, 7, 19]), minutes=chance.choice([0, 30]))
    freq = chance.choice(["DAILY", "WEEKLY", "MONTHLY"])
    rule = f"FREQ={freq};INTERVAL={chance.randint(1, 3)}"
    if freq == "WEEKLY":
        rule += ";BYDAY=" + ",".join(sorted(chance.sample(DAYS, chance.randint(1, 3)), key=DAYS.index))
    if freq == "MONTHLY":
        rule += chance.choice([";BYMONTHDAY=15", ";BYMONTHDAY=-1", ";BYDAY=1MO", ";BYDAY=-1FR"])
    if chance.random() < 0.3:
        rule += f";COUNT={chance.randint(1, 40)}"
    after = datetime(2026, 2, 1, tzinfo=timezone.utc) + timedelta(days=chance.randint(0, 120))
    until = after + timedelta(days=chance.randint(10, 300))
    times = []
    for naive in rrulestr(rule, dtstart=start):
        moment = naive.replace(tzinfo=ZoneInfo(zone), fold=0).astimezone(timezone.utc)
        if moment > until:
            break
        if moment > after:
            times.append(utc(moment))
    text = f"DTSTART:{start.strftime('%Y%m%dT%H%M%S')};{rule}"
    return {"ask": "repeat", "repeat": text, "zone": zone, "after": utc(after), "until": utc(until)}, times


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--crate", default=".")
    parser.add_argument("--seed", type=int, default=20260901)
    parser.add_argument("--cases", type=int, default=300)
    args = parser.parse_args()
    chance = random.Random(args.seed)
    feeds = [{"ask": "feed", "now": NOW, "coming": [some_coming(chance, n) for n in range(chance.randint(0, 12))]} for _ in range(args.cases)]
    repeats = [repeat_case(chance) for _ in range(args.cases)]
    answers = ask(feeds + [question for question, _ in repeats], args.crate)
    differ = []
    for question, answer in zip(feeds, answers):
        wrong = feed_differs(question, answer["ics"])
        if wrong:
            differ.append(wrong)
    for (question, times), answer in zip(repeats, answers[len(feeds):]):
        if answer["times"] != times:
            differ.append(f"{question}: {times} against {answer['times']}")
    for line in differ[:10]:
        print(line)
    print(f"feed: {len(feeds)} feeds and {len(repeats)} repeats, {len(differ)} differ")
    sys.exit(1 if differ else 0)


if __name__ == "__main__":
    main()
