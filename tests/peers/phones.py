"""Telephone numbers as people write them: the library against PyPI phonenumbers (the port of libphonenumber that its
own project keeps). Exits 1 on a difference.

    python tests/peers/phones.py [--crate DIR]

What must agree: whether a text is a number that can exist, and which. One thing is meant to differ: a number with an
extension is refused here, since texts cannot reach it.
"""

import argparse
import os
import random
import sys

import phonenumbers

from ask import ask

WRITTEN = """
312 555 0100|(312) 555-0100|312-555-0100|312.555.0100|3125550100|13125550100|1 312 555 0100|1-312-555-0100|+1 312 555 0100
+13125550100|001 312 555 0100|011 1 312 555 0100|tel:+1-312-555-0100|+1 (312) 555-0100|312/555-0100|312–555–0100|(312)5550100
 312 555 0100 |312  555  0100|312 555 0100.|+1.312.555.0100|＋1 312 555 0100|３１２５５５０１００|call 312 555 0100
555-0100|5550100|312 555 010|312 555 01000|112 555 0100|212 111 0123|+12121110123|911|+1 911 555 0100|000 000 0000
312 555 0100 x12|312-555-0100 ext. 5|312 555 0100 / 312 555 0101|312 555 0100 or 312 555 0101|312 555 0100, 312 555 0101
3125550100.0|1.31256E+10|+|-|x|phone|800 555 0199|+1 800 555 0199|555 555 0123|+15555550123|+12125550123
+52 55 1234 5678|+52 1 55 1234 5678|011 52 55 1234 5678|+525512345678|+52 33 1234 5678|+52 664 123 4567
+44 20 7946 0958|+44 (0)20 7946 0958|+44 7700 900123|07700 900123|+44 7700 900 123|011 44 7700 900123
+61 491 570 156|+61 2 5550 1234|+64 21 123 4567|+49 30 123456|+49 1512 3456789|+33 6 12 34 56 78|+34 612 345 678
+502 5123 4567|+503 7012 3456|+504 9123 4567|+505 8123 4567|+506 8312 3456|+507 6123 4567|+53 5 1234567|+1 787 234 5678
+1 809 234 5678|+1 868 291 1234|+57 321 1234567|+58 412 1234567|+51 912 345 678|+55 11 96123 4567|+54 9 11 2345 6789
+63 905 123 4567|+84 91 234 56 78|+86 131 2345 6789|+82 10 2000 0000|+81 90 1234 5678|+91 81234 56789|+971 50 123 4567
+39 312 345 6789|+39 02 1234 5678|+7 912 345 67 89|+380 50 123 4567|+234 802 123 4567|+254 712 123456|+27 71 123 4567
+999 123 456 789|+0 312 555 0100|+1 312 555|+1312555010012345|+31 6 12345678|+41 78 123 45 67|+46 70 123 45 67
"""


def expected(text):
    """What phonenumbers makes of a text: E.164, None, or "extension"."""
    try:
        number = phonenumbers.parse(text.strip(), "US")
    except phonenumbers.NumberParseException:
        return None
    if number.extension:
        return "extension"
    if not phonenumbers.is_valid_number(number):
        return None
    return phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164)


def made_up(chance):
    """Numbers in many writings: US ones by shape, and every region's published example."""
    for _ in range(400):
        digits = f"{chance.randint(100, 999)}555{chance.choice(['01', '01', '01', '12'])}{chance.randint(0, 99):02}"
        forms = ["{0}{1}{2}", "({0}) {1}-{2}", "{0}-{1}-{2}", "{0}.{1}.{2}", "+1{0}{1}{2}", "1 {0} {1} {2}", "+1 ({0}) {1}-{2}", " {0} {1}-{2} "]
        yield chance.choice(forms).format(digits[:3], digits[3:6], digits[6:])
    styles = [phonenumbers.PhoneNumberFormat.E164, phonenumbers.PhoneNumberFormat.INTERNATIONAL, phonenumbers.PhoneNumberFormat.RFC3966]
    kinds = [phonenumbers.PhoneNumberType.MOBILE, phonenumbers.PhoneNumberType.FIXED_LINE]
    for region in sorted(phonenumbers.SUPPORTED_REGIONS):
        for kind in kinds:
            number = phonenumbers.example_number_for_type(region, kind)
            if number is not None:
                for style in styles:
                    yield phonenumbers.format_number(number, style)
                yield phonenumbers.format_out_of_country_calling_number(number, "US")


def main():
    here = os.path.dirname(os.path.abspath(__file__))
    parser = argparse.ArgumentParser()
    parser.add_argument("--crate", default=os.path.join(here, "..", ".."))
    folder = parser.parse_args().crate
    texts = [text for line in WRITTEN.strip().splitlines() for text in line.split("|")]
    texts += list(made_up(random.Random(20260820)))
    answers = ask([{"phone": text} for text in texts], folder)
    differences = 0
    for text, answer in zip(texts, answers):
        wanted = expected(text)
        extension = "extension" in answer.get("error", "")
        agrees = extension if wanted == "extension" else answer["e164"] == wanted
        if not agrees:
            differences += 1
            print(f"{text!r}: phonenumbers {wanted}, here {answer}")
    print(f"{len(texts)} writings, {differences} differences")
    return 1 if differences else 0


if __name__ == "__main__":
    sys.exit(main())
