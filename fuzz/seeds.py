"""Writes what the fuzzer starts from: a file for every labelled reply, and a dictionary of the lexicon's entries.

    python3 fuzz/seeds.py
"""

import itertools
import json
import pathlib
import tomllib

HERE = pathlib.Path(__file__).parent
REPLIES = sorted((HERE / "../tests/replies").glob("*.jsonl"))
LEXICONS = sorted((HERE / "../reading/src/words").glob("*.toml"))


def escaped(entry):
    """As libFuzzer's dictionaries have it: what is not plain is \\xAB."""
    plain = lambda byte: 32 <= byte < 127 and byte not in b'"\\'
    return "".join(chr(byte) if plain(byte) else f"\\x{byte:02x}" for byte in entry.encode())


def spelled_out(entry):
    """The phrases that one with choices stands for."""
    if "|" not in entry:
        return [entry]
    chosen = itertools.product(*(words.split("|") for words in entry.split(" ")))
    return [" ".join(" ".join(words).replace("_", " ").split()) for words in chosen]


corpus = HERE / "corpus" / "text"
corpus.mkdir(parents=True, exist_ok=True)
texts = [json.loads(line)["text"] for path in REPLIES for line in path.read_text(encoding="utf-8").splitlines()]
for index, text in enumerate(texts):
    (corpus / f"seed-{index:04}").write_text(text, encoding="utf-8")

entries = set()
for path in LEXICONS:
    for listed in tomllib.loads(path.read_text(encoding="utf-8"))["words"].values():
        entries.update(phrase for entry in listed for phrase in spelled_out(entry))
(HERE / "lexicon.dict").write_text("".join(f'"{escaped(entry)}"\n' for entry in sorted(entries)))
print(f"{len(texts)} seeds, {len(entries)} dictionary entries")
