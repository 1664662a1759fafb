#!/usr/bin/env python3
"""Judges a log of requests that the carrier's mock checked against its description.

usage: violations.py LOG...     exit 1 and a line for each request that broke it, or when there are no requests
"""
import json
import sys


def main():
    sends, wrong = 0, 0
    for path in sys.argv[1:]:
        with open(path, encoding="utf-8") as log:
            for line in log:
                entry = json.loads(line)
                if "method" not in entry:
                    continue
                sends += entry["method"] == "POST"
                for violation in entry["violations"]:
                    wrong += 1
                    print(f"{entry['method']} {entry['path']}: {violation}", file=sys.stderr)
    print(f"{sends} messages handed over, {wrong} violations of the description")
    return 1 if wrong or not sends else 0


sys.exit(main())
