"""Calendars: the library's events against PyPI python-dateutil and recurring-ical-events (with icalendar). Exits 1 on a
difference.

    python tests/peers/calendars.py [--crate DIR] [--seed N] [--cases N]

Two comparisons, on calendars made from a seed:

rules    python-dateutil expands each rule on local time without a zone, and zoneinfo (fold 0) places what it gives. That
         is RFC 5545 section 3.3.5 with erratum 4271: a local time that daylight saving skips is kept and counted.
series   recurring-ical-events reads whole calendars: rules, additions, removals, moved, cancelled and
         this-and-future occurrences, folded lines. By day, since that library drops skipped times.
"""

import argparse
import os
import random
import sys
from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import icalendar
import recurring_ical_events
from dateutil.rrule import rrulestr

from ask import ask

NOW = datetime(2026, 8, 20, 12, tzinfo=timezone.utc)
HORIZON_DAYS = 400
FROM, UNTIL = NOW - timedelta(days=2), NOW + timedelta(days=HORIZON_DAYS)
HOME = "America/Chicago"
ZONES = ["America/New_York", "America/Chicago", "America/Phoenix", "America/Los_Angeles", "Europe/Madrid", "UTC"]
DAYS = ["MO", "TU", "WE", "TH", "FR", "SA", "SU"]


def stamp(moment):
    return moment.strftime("%Y%m%dT%H%M%S")


def utc(moment):
    return moment.astimezone(timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")


def place(naive, zone):
    """RFC 5545 section 3.3.5: fold 0 is the first pass, and the offset before the gap."""
    return naive.replace(tzinfo=ZoneInfo(zone), fold=0).astimezone(timezone.utc)


def some_rule(chance, start, one_a_day=False):
    """A rule, mostly one that gives its start; now and then one that does not."""
    some = lambda values, most: sorted(chance.sample(values, chance.randint(1, most)))
    freq = chance.choice(["DAILY", "WEEKLY", "WEEKLY", "WEEKLY", "MONTHLY", "YEARLY"])
    parts = [f"FREQ={freq}"]
    if chance.random() < 0.4:
        parts.append(f"INTERVAL={chance.randint(1, 4)}")
    if freq == "DAILY" and chance.random() < 0.4:
        parts.append("BYDAY=" + ",".join(DAYS[day] for day in some(range(7), 5)))
    if freq == "WEEKLY" and chance.random() < 0.8:
        days = set(some(range(7), 4)) | ({start.weekday()} if chance.random() < 0.8 else set())
        parts.append("BYDAY=" + ",".join(DAYS[day] for day in sorted(days)))
        if chance.random() < 0.4:
            parts.append(f"WKST={chance.choice(['SU', 'MO'])}")
    if freq == "MONTHLY":
        shape = chance.randint(0, 3)
        if shape == 0:
            parts.append("BYDAY=" + ",".join(f"{chance.choice([1, 2, 3, -1, -2])}{DAYS[day]}" for day in some(range(7), 2)))
        elif shape == 1:
            parts.append("BYMONTHDAY=" + ",".join(str(day) for day in some([1, 13, 15, 28, 29, 30, 31, -1, -3], 3)))
        elif shape == 2:
            parts.append("BYDAY=" + ",".join(DAYS[day] for day in some(range(7), 3)) + f";BYSETPOS={chance.choice([1, 2, -1])}")
    if freq == "YEARLY" and chance.random() < 0.7:
        parts.append("BYMONTH=" + ",".join(str(month) for month in some(range(1, 13), 3)))
        if chance.random() < 0.5:
            parts.append("BYDAY=" + ",".join(f"{chance.choice([1, 2, -1])}{DAYS[day]}" for day in some(range(7), 2)))
    if chance.random() < 0.15 and freq in ("DAILY", "WEEKLY") and not one_a_day:
        parts.append("BYHOUR=" + ",".join(str(hour) for hour in sorted({start.hour, chance.randint(7, 20)})))
    return ";".join(parts)


def some_end(chance, start, zone):
    """(part of the rule, count, last moment)."""
    kind = chance.randint(0, 3)
    if kind == 0:
        return "", None, None
    if kind == 1:
        count = chance.randint(1, 60)
        return f";COUNT={count}", count, None
    last = start + timedelta(days=chance.randint(0, 400), minutes=chance.choice([0, 0, -1, 1]))
    if zone == "floating":
        return f";UNTIL={stamp(last)}", None, place(last, HOME)
    moment = place(last, zone)
    return f";UNTIL={stamp(moment)}Z", None, moment


def some_start(chance, early):
    day = datetime(2025, 9, 1) + timedelta(days=chance.randint(0, 500))
    hour = chance.choice([0, 1, 1, 2, 2, 3, 7, 15]) if early else chance.randint(7, 19)
    return day.replace(hour=hour, minute=chance.choice([0, 15, 30, 45]))


def start_lines(start, minutes, zone, name="DTSTART"):
    end = start + timedelta(minutes=minutes)
    tail = {"UTC": "Z"}.get(zone, "")
    zoned = "" if zone in ("UTC", "floating") else f";TZID={zone}"
    lines = [f"{name}{zoned}:{stamp(start)}{tail}"]
    if minutes:
        lines.append(f"DTEND{zoned}:{stamp(end)}{tail}")
    return lines


def calendar(entries):
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//example//tests//EN"]
    for entry in entries:
        lines += ["BEGIN:VEVENT", *entry, "END:VEVENT"]
    lines.append("END:VCALENDAR")
    folded = []
    for line in lines:
        while len(line) > 60:
            folded.append(line[:60])
            line = " " + line[60:]
        folded.append(line)
    return "\r\n".join(folded) + "\r\n"


def rule_case(chance):
    zone = chance.choice(ZONES + ["floating"])
    start = some_start(chance, early=True)
    # That library removes and changes by date, and so takes a second occurrence of the date away too.
    rule = some_rule(chance, start, one_a_day=True)
    end, count, last = some_end(chance, start, zone)
    ics = calendar([["UID:rule", *start_lines(start, 0, zone), f"RRULE:{rule}{end}", "SUMMARY:Practice"]])
    where = HOME if zone == "floating" else zone
    local = [] if last and place(start, where) > last else [start]
    for naive in rrulestr(rule, dtstart=start):
        moment = place(naive, where)
        if naive.year > 2028 or moment > UNTIL or (last and moment > last) or (count and len(local) >= count):
            break
        if naive != start:
            local.append(naive)
    wanted = {utc(place(naive, where)) for naive in local if FROM <= place(naive, where) <= UNTIL}
    return ics, wanted


def series_case(chance):
    zone = chance.choice([zone for zone in ZONES if zone != "UTC"])
    start = some_start(chance, early=False)
    # That library removes and changes by date, and so takes a second occurrence of the date away too.
    rule = some_rule(chance, start, one_a_day=True)
    end, count, _ = some_end(chance, start, zone)
    if count and next(iter(rrulestr(rule, dtstart=start)), None) != start:
        # RFC 5545 section 3.3.10: the start "always counts as the first occurrence"; that library does not count it.
        end = ""
    minutes = chance.choice([60, 90, 120])
    head = start_lines(start, minutes, zone)
    master = ["UID:series", *head, f"RRULE:{rule}{end}", "SUMMARY:Practice", "LOCATION:Field 2\\, north end\\; by the long fence behind the gym"]
    given = []
    for naive in rrulestr(rule + end, dtstart=start.replace(tzinfo=ZoneInfo(zone))):
        if naive.year > 2027:
            break
        if naive.replace(tzinfo=None) > datetime(2026, 8, 25):
            given.append(naive.replace(tzinfo=None))
    picked = chance.sample(given, min(len(given), chance.randint(0, 5)))
    changed = []
    for number, naive in enumerate(picked):
        new = naive + timedelta(days=chance.choice([0, 0, 1]), minutes=chance.choice([-60, 45, 90]))
        identity = f"RECURRENCE-ID;TZID={zone}:{stamp(naive)}"
        if chance.random() < 0.3:
            identity = f"RECURRENCE-ID:{stamp(place(naive, zone))}Z"
        entry = ["UID:series", identity, *start_lines(new, minutes, zone), "SUMMARY:Practice", "LOCATION:Gym"]
        if number == 0:
            master.append(f"EXDATE;TZID={zone}:{stamp(naive)}")
        elif number == 1:
            changed.append([*entry, "STATUS:CANCELLED"])
        else:
            changed.append(entry)
    if given and chance.random() < 0.5:
        extra = chance.choice(given) + timedelta(days=chance.choice([1, 2]), minutes=5)
        master.append(f"RDATE;TZID={zone}:{stamp(extra)}")
    return calendar([master, *changed])


def peers_events(ics):
    """What recurring-ical-events makes of a calendar: {(start, end, place, cancelled)}."""
    events = set()
    read = icalendar.Calendar.from_ical(ics)
    for event in recurring_ical_events.of(read).between(FROM, UNTIL + timedelta(seconds=1)):
        start = event["DTSTART"].dt
        if FROM <= start.astimezone(timezone.utc) <= UNTIL:
            cancelled = str(event.get("STATUS", "")) == "CANCELLED"
            events.add((utc(start), utc(event.end), str(event.get("LOCATION", "")), cancelled))
    return events


def following_cases():
    """This-and-future changes, which need not be made up: moved by an hour, by a day, cancelled, and one after another."""
    head = ["UID:series", *start_lines(datetime(2026, 8, 24, 15, 30), 120, HOME), "RRULE:FREQ=WEEKLY;BYDAY=MO,WE,FR;COUNT=40", "SUMMARY:Practice"]
    def change(when, to, *more):
        return ["UID:series", f"RECURRENCE-ID;RANGE=THISANDFUTURE;TZID={HOME}:{stamp(when)}", *start_lines(to, 120, HOME), "SUMMARY:Practice", *more]
    first, second = datetime(2026, 9, 14, 15, 30), datetime(2026, 10, 28, 15, 30)
    yield calendar([head, change(first, first + timedelta(hours=1))])
    yield calendar([head, change(first, first + timedelta(days=1, hours=-1), "LOCATION:Gym")])
    yield calendar([head, change(second, second, "STATUS:CANCELLED")])
    single = ["UID:series", f"RECURRENCE-ID;TZID={HOME}:{stamp(datetime(2026, 9, 16, 15, 30))}", *start_lines(datetime(2026, 9, 16, 9), 60, HOME), "SUMMARY:Practice"]
    yield calendar([head, change(first, first + timedelta(hours=1)), single])


def question(ics):
    return {"ics": ics, "zone": HOME, "now": utc(NOW), "horizon_days": HORIZON_DAYS}


def report(name, ics, wanted, told):
    if wanted == told:
        return 0
    print(f"--- {name}\n{ics}missing here: {sorted(wanted - told)[:8]}\nonly here: {sorted(told - wanted)[:8]}")
    return 1


def main():
    here = os.path.dirname(os.path.abspath(__file__))
    parser = argparse.ArgumentParser()
    parser.add_argument("--crate", default=os.path.join(here, "..", ".."))
    parser.add_argument("--seed", type=int, default=5545)
    parser.add_argument("--cases", type=int, default=1000)
    options = parser.parse_args()
    chance = random.Random(options.seed)
    rules = [rule_case(chance) for _ in range(options.cases)]
    series = [series_case(chance) for _ in range(options.cases)] + list(following_cases())
    answers = ask([question(ics) for ics, _ in rules] + [question(ics) for ics in series], options.crate)
    differences = compared = 0
    for (ics, wanted), answer in zip(rules, answers):
        if "problems" in answer:
            differences += 1
            print(f"--- rules\n{ics}{answer['problems']}")
            continue
        compared += len(wanted)
        differences += report("rules", ics, wanted, {event["start"] for event in answer["events"]})
    for ics, answer in zip(series, answers[len(rules):]):
        if "problems" in answer:
            differences += 1
            print(f"--- series\n{ics}{answer['problems']}")
            continue
        wanted = peers_events(ics)
        compared += len(wanted)
        told = {(e["start"], e["end"], e["place"] or "", e["cancelled"]) for e in answer["events"]}
        differences += report("series", ics, wanted, told)
    print(f"{len(rules)} rules and {len(series)} series, {compared} events, {differences} differences")
    return 1 if differences else 0


if __name__ == "__main__":
    sys.exit(main())
