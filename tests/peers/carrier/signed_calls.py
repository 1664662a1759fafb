#!/usr/bin/env python3
"""Form posts signed by the carrier's own Python library (PyPI: twilio), one JSON object a line, the same every time.

usage: signed_calls.py COUNT
"""
import json
import random
import sys

from twilio.request_validator import RequestValidator

LETTERS = "aZ09_ +&=%?\n\t.ñé¿¡ü漢\U0001F3C8\u0301"
NAMES = ["Body", "From", "To", "MessageSid", "a", "A", "_", "Ünicode", "Digits", "NumMedia", "MediaUrl0", ""]
PLACES = ["https://kestrels.example/carrier/text", "https://kestrels.example:8443/text?school=1&x=%20a",
          "http://127.0.0.1:4010/", "https://Kestrels.Example/cb?", "http://kestrels.example"]


class Pairs(dict):
    """A form whose names may repeat, as the library expects one: getall(name) gives every value."""

    def __init__(self, pairs):
        super().__init__()
        for name, value in pairs:
            self.setdefault(name, []).append(value)

    def getall(self, name):
        return self[name]


def text(chance, most):
    return "".join(chance.choice(LETTERS) for _ in range(chance.randrange(most)))


def main():
    chance = random.Random(20)
    for _ in range(int(sys.argv[1])):
        params = [(chance.choice(NAMES), text(chance, 12)) for _ in range(chance.randrange(9))]
        if params and chance.random() < 0.3:
            params.append(params[0])
        token, url = text(chance, 30) + "t", chance.choice(PLACES)
        signature = RequestValidator(token).compute_signature(url, Pairs(params))
        print(json.dumps({"url": url, "token": token, "params": params, "signature": signature}))


main()
