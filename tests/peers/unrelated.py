"""Texts that real people wrote about something else: none may be read as all clear where a person who asked about a helmet
would not have taken it so. Exits 1 when one is.

    python tests/peers/unrelated.py [--crate DIR]

English: npm nlp-corpus, some 100,000 lines: the National University of Singapore's SMS corpus (Chen and Kan, 2013) mixed
with subtitles, lyrics, reviews and forum posts. Spanish: PyPI chatterbot-corpus (BSD), small talk. Both are installed, not
kept here. Every line goes through `browline read --json`; those read as all clear must be in unrelated/judged.txt, which a
person went through: what is in there, sent in answer to the question, would be taken for an all clear ("Looks good").
"""

import argparse
import importlib.util
import json
import os
import re
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))


def english():
    """The lines of the npm package, which is one JSON array a file."""
    builds = os.path.join(os.environ["NODE_PATH"], "nlp-corpus", "builds")
    for name in sorted(os.listdir(builds)):
        with open(os.path.join(builds, name), encoding="utf-8") as file:
            yield from json.load(file)


def spanish():
    """The lines of the PyPI package's Spanish files: lists of lists, with one line to an entry."""
    package = importlib.util.find_spec("chatterbot_corpus").submodule_search_locations[0]
    folder = os.path.join(package, "data", "spanish")
    for name in sorted(os.listdir(folder)):
        with open(os.path.join(folder, name), encoding="utf-8") as file:
            for line in file:
                entry = re.match(r"\s*-(?:\s+-)?\s+(.+)", line)
                if entry:
                    yield entry.group(1).strip().strip("\"'")


def once(lines):
    """Each line once, on one line."""
    return list(dict.fromkeys(" ".join(line.split()) for line in lines if line.strip()))


def read(lines, folder):
    """What the program makes of each line."""
    # As the tests build it: another build would build every dependency anew.
    build = ["cargo", "test", "--quiet", "--locked", "--test", "reading", "--no-run"]
    subprocess.run(build, cwd=folder, check=True)
    run = subprocess.run(
        [os.path.join(folder, os.environ.get("CARGO_TARGET_DIR", "target"), "debug", "browline"), "read", "--json"],
        cwd=folder,
        input="\n".join(lines) + "\n",
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        check=True,
    )
    readings = [json.loads(line) for line in run.stdout.splitlines()]
    if [reading["text"] for reading in readings] != lines:
        raise SystemExit("not every line was read")
    return readings


def main():
    parser = argparse.ArgumentParser(description="unrelated texts are not read as all clear")
    parser.add_argument("--crate", default=os.path.join(HERE, "..", ".."))
    arguments = parser.parse_args()
    with open(os.path.join(HERE, "unrelated", "judged.txt"), encoding="utf-8") as file:
        judged = {line.rstrip("\n") for line in file if line.strip() and not line.startswith("#")}

    wrong = 0
    for language, lines, least in [("English", once(english()), 90_000), ("Spanish", once(spanish()), 600)]:
        if len(lines) < least:
            raise SystemExit(f"{language}: {len(lines)} lines are too few to show anything")
        clear = [reading["text"] for reading in read(lines, arguments.crate) if reading["reading"] == "all_clear"]
        unjudged = [text for text in clear if text not in judged]
        for text in unjudged:
            print(f"read as all clear: {text}")
        print(f"{language}: {len(lines)} lines, {len(clear)} all clear, {len(unjudged)} of them where a person would ask")
        wrong += len(unjudged)
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
