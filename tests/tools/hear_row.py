#!/usr/bin/env python3
"""One row of the table: what a setting heard, read by the extractor and scored.

usage: hear_row.py SHARED LINES LIST.jsonl HEARD.jsonl MODEL SETTING NOISE
Weights and notes are counted by the scorer of the labelled notes; word error by jiwer, over words normalised as for Whisper, where it is installed.
"""
import json
import subprocess
import sys
import tempfile


def read(path):
    with open(path, encoding="utf-8") as lines:
        return {item["id"]: item for item in map(json.loads, lines)}


def main():
    shared, lines, listed, heard, model, setting, noise = sys.argv[1:8]
    wanted, got = read(f"{shared}/corpus/notes-dev.jsonl"), read(heard)
    notes = [wanted[name] for name in read(listed) if name in got]
    asked = "".join(json.dumps({k: v for k, v in note.items() if k not in ("spoken", "entries", "tags")}
                               | {"text": got[note["id"]]["text"]}
                               | ({"words": got[note["id"]]["words"]} if got[note["id"]]["words"] else {})) + "\n" for note in notes)
    said = subprocess.run([lines], input=asked, capture_output=True, text=True, check=True).stdout
    with tempfile.NamedTemporaryFile("w", suffix=".jsonl") as truth, tempfile.NamedTemporaryFile("w", suffix=".jsonl") as mine:
        truth.write("".join(json.dumps(note) + "\n" for note in notes))
        mine.write(said)
        truth.flush()
        mine.flush()
        out = subprocess.run([sys.executable, f"{shared}/tools/score.py", truth.name, mine.name, "--json"], capture_output=True, text=True, check=True)
    whole = json.loads(out.stdout)
    try:
        import jiwer
        from whisper_normalizer.english import EnglishTextNormalizer
        plain = EnglishTextNormalizer()
        error = f"{100 * jiwer.wer([plain(n['text']) for n in notes], [plain(got[n['id']]['text']) for n in notes]):.1f} %"
    except ImportError:
        error = "?"
    seconds = sum(got[n["id"]]["audio_s"] for n in notes)
    cost = sum(got[n["id"]]["cpu_s"] for n in notes)
    again = sum(got[n["id"]].get("readings", 1) > 1 for n in notes)
    weights, right = whole["weights"], whole["notes"]
    truths = sum(e["kind"] == "weight" for n in notes for e in n["entries"])
    print(f"| {model} | {setting} | {noise} | {weights['right']}/{truths} | {error} | {right['right']}/{right['all']} "
          f"| {again} | {cost / seconds:.2f} |", flush=True)


if __name__ == "__main__":
    main()
