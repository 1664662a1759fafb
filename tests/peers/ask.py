"""Asks the library: questions go in as JSON lines, answers come back as JSON lines, through one ignored test."""

import json
import os
import subprocess
import tempfile


def ask(questions, folder):
    """The library's answers to `questions`, in order; `folder` is where cargo runs."""
    with tempfile.TemporaryDirectory() as scratch:
        asked, told = os.path.join(scratch, "questions"), os.path.join(scratch, "answers")
        with open(asked, "w", encoding="utf-8") as file:
            for question in questions:
                file.write(json.dumps(question) + "\n")
        command = ["cargo", "test", "--quiet", "--test", "intake", "--", "--ignored", "--exact", "peers::answer_questions"]
        run = subprocess.run(
            command,
            cwd=folder,
            env=dict(os.environ, BROWLINE_PEER_QUESTIONS=asked, BROWLINE_PEER_ANSWERS=told),
            capture_output=True,
            text=True,
        )
        if run.returncode != 0:
            raise SystemExit(f"the library did not answer:\n{run.stdout}\n{run.stderr}")
        with open(told, encoding="utf-8") as file:
            answers = [json.loads(line) for line in file]
    if len(answers) != len(questions):
        raise SystemExit(f"{len(questions)} questions and {len(answers)} answers")
    return answers
