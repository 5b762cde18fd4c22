"""Writes the samples from the story: demo.json, expected.jsonl, roster.json, the notes as sound and the scale photos.

    python3 make.py [--sound] [--photos PYTHON]

Without options it writes the JSON alone. `--sound` needs espeak-ng, flite, festival (with festvox-us-slt-hts), sox and
ffmpeg. `--photos` takes the Python that has the packages of ../models/display/requirements.txt.
"""

import argparse
import json
import shlex
import subprocess
import tempfile
from datetime import date, timedelta
from pathlib import Path

import notes
import story

HERE = Path(__file__).resolve().parent
CONTAINERS = {
    "ogg": "-c:a libopus -b:a 20k -application voip", "m4a": "-c:a aac -b:a 40k", "flac": "-c:a flac", "wav": "-c:a pcm_s16le",
    "mp3": "-c:a libmp3lame -b:a 40k",
}


def day_date(day):
    return date.fromisoformat(story.LAST_DAY) + timedelta(days=day)


def moment(day, clock, offset=story.OFFSET):
    return f"{day_date(day)}T{clock if clock.count(':') == 2 else clock + ':00'}{offset}"


def last_grams(bird, day, clock):
    """Returns the weight that the keeper had last confirmed before a note: that of the day before."""
    return notes.WEIGHTS[bird][max(day - 1, -28)]


def roster(day=1, clock="00:00"):
    return [{"name": b["name"], "aliases": b["aliases"], "species": b["species"], "sex": b["sex"],
             "last_grams": last_grams(b["name"], day, clock)} for b in story.BIRDS]


def expected():
    for ident, day, clock, _, kind, _, current, words, entries in notes.NOTES:
        listed = []
        for bird, what, value, flags in entries:
            entry = {"kind": what, "bird": bird, "value": value}
            listed.append(entry | ({"flags": flags} if flags else {}))
        note = {"id": ident, "spoken": words, "text": words, "at": moment(day, clock), "birds": roster(day, clock)}
        if current:
            note["current_bird"] = current
        yield note | {"units": "metric", "tags": [kind], "entries": listed}


def confirmed(bird):
    """Yields a bird's confirmed days: the morning's weight, then what the day held, in order."""
    name = bird["name"]
    said = {(day, ident): entries for ident, day, _, _, _, state, _, _, entries in notes.NOTES if state == notes.SOFAR}
    waits = {(day, b, kind) for _, day, _, _, _, state, _, _, entries in notes.NOTES if state == notes.WAITS for b, kind, _, _ in entries}
    minute = {"Sedge": 9, "Teal": 17, "Marlow": 25}[name]
    for day in range(-28, 0):
        clock = f"08:{minute + (day * 7 + minute) % 5:02d}"
        out = []
        if (day, name, "weight") not in waits:
            unit = "lb oz" if bird["units"] == "avoirdupois" else "g"
            out.append({"clock": clock, "kind": "weight", "value": {"grams": notes.WEIGHTS[name][day], "unit": unit}})
        for i, (kind, value) in enumerate(story.DAYS[name].get(day, [])):
            if (day, name, kind) not in waits:
                out.append({"clock": f"{16 if kind == 'food' else 15}:{10 + i * 3:02d}", "kind": kind, "value": value})
        for entry in out:
            for (d, ident), entries in said.items():
                if d == day and any(b == name and k == entry["kind"] and v == entry["value"] for b, k, v, _ in entries):
                    entry["note"] = ident
                    entry["clock"] = next(n[2] for n in notes.NOTES if n[0] == ident)
        for (d, ident), entries in said.items():
            for b, kind, value, _ in entries:
                if d == day and b == name and kind == "remark":
                    out.append({"clock": next(n[2] for n in notes.NOTES if n[0] == ident), "kind": kind, "value": value, "note": ident})
        yield {"day": day, "bird": name, "entries": sorted(out, key=lambda e: e["clock"])}


def demo():
    days = [d for bird in story.BIRDS for d in confirmed(bird)]
    for day in range(-28, 0):
        t, wind, sky = story.SKIES[day % len(story.SKIES)]
        value = {"temperature_c": float(t), "wind": wind, "sky": sky}
        days.append({"day": day, "bird": None, "entries": [{"clock": "08:05", "kind": "weather", "value": value}]})
    days.sort(key=lambda d: d["day"])
    birds = [{k: v for k, v in b.items()} for b in story.BIRDS]
    listed = [{"id": i, "file": f"notes/{i}.{ext}", "day": d, "clock": c, "state": s, "current_bird": cur, "text": words}
              for i, d, c, _, ext, s, cur, words, _ in notes.NOTES]
    photos = [{"id": i, "file": f"photos/{i}.jpg", "day": d, "clock": c, "bird": b, "note": n,
               "state": "waits" if n and next(x[5] for x in notes.NOTES if x[0] == n) == notes.WAITS else "confirmed"}
              for i, d, c, b, _, _, n, _, _, _ in notes.PHOTOS]
    return {"keeper": story.KEEPER, "units": "metric", "files_day_0": story.LAST_DAY, "birds": birds, "days": days,
            "notes": listed, "photos": photos}


def laid_out(value, depth=0):
    """Returns JSON with one entry, bird's field, note or photo a line, so that a change shows as one line."""
    flat = json.dumps(value, ensure_ascii=False)
    if not isinstance(value, (dict, list)) or not value or depth >= 2 and "entries" not in value and len(flat) < 400 or depth >= 4:
        return flat
    pad, end = " " * (depth + 1), " " * depth
    if isinstance(value, dict):
        body = [f"{json.dumps(k)}: {laid_out(v, depth + 1)}" for k, v in value.items()]
        return "{\n" + ",\n".join(pad + b for b in body) + "\n" + end + "}"
    return "[\n" + ",\n".join(pad + laid_out(v, depth + 1) for v in value) + "\n" + end + "]"


def run(command, **kw):
    subprocess.run(command if isinstance(command, list) else shlex.split(command), check=True, capture_output=True, **kw)


def speak(voice, words, wav):
    """Says the words with a free synthetic voice into a WAV file of 16 kHz, one channel."""
    engine, name, *noise = voice.split()
    raw = wav.with_suffix(".raw.wav")
    if engine == "espeak":
        run(["espeak-ng", "-v", name, "-s", "150", "-g", "3", "-w", str(raw), words])
    elif engine == "flite":
        run(["flite", "-voice", name, "-t", words, "-o", str(raw)])
    else:
        # A hyphen between number words trips festival's reading of them.
        run(["text2wave", "-eval", "(voice_cmu_us_slt_arctic_hts)", "-o", str(raw)], input=words.replace("-", " ").encode())
    run(["sox", "-R", str(raw), "-r", "16000", "-c", "1", "-b", "16", str(wav), "norm", "-3", "pad", "0.4", "0.6"])
    if noise:
        windy = wav.with_suffix(".wind.wav")
        seconds = subprocess.run(["soxi", "-D", str(wav)], check=True, capture_output=True, text=True).stdout.strip()
        run(["sox", "-R", "-n", "-r", "16000", "-c", "1", "-b", "16", str(windy), "synth", seconds, "brownnoise", "tremolo", "0.7", "60",
             "highpass", "80", "vol", "0.25"])
        mixed = wav.with_suffix(".mix.wav")
        run(["sox", "-R", "-m", "-v", "0.8", str(wav), "-v", "0.6", str(windy), str(mixed)])
        mixed.replace(wav)


def sound():
    folder = HERE / "notes"
    folder.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as tmp:
        for ident, _, _, voice, ext, _, _, words, _ in notes.NOTES:
            wav = Path(tmp) / f"{ident}.wav"
            speak(voice, words, wav)
            run(["ffmpeg", "-y", "-loglevel", "error", "-i", str(wav), "-map_metadata", "-1", "-fflags", "+bitexact", "-flags:a", "+bitexact",
                 "-ar", "16000", "-ac", "1", *CONTAINERS[ext].split(), str(folder / f"{ident}.{ext}")])
            print(f"notes/{ident}.{ext}")


def photos(python):
    folder = HERE / "photos"
    folder.mkdir(exist_ok=True)
    maker = HERE.parent / "models" / "display" / "make_photo.py"
    for ident, day, clock, bird, reading, unit, _, zoned, seed, look in notes.PHOTOS:
        reading = reading or notes.lb_oz_reading(notes.WEIGHTS[bird][day])
        run([python, str(maker), "--reading", reading, "--unit", unit, "--seed", str(seed), "--width", "1280", "--height", "960",
             "--quality", "80", "--hard", "0.1", "--digit", "0.13", "--taken", moment(day, clock, story.OFFSET if zoned else ""),
             "--out", str(folder / f"{ident}.jpg"), *look.split()])
        print(f"photos/{ident}.jpg shows {reading} {unit}")


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("--sound", action="store_true")
    p.add_argument("--photos", metavar="PYTHON")
    args = p.parse_args()
    notes.check()
    (HERE / "demo.json").write_text(laid_out(demo()) + "\n")
    (HERE / "expected.jsonl").write_text("".join(json.dumps(n, ensure_ascii=False) + "\n" for n in expected()))
    (HERE / "roster.json").write_text(json.dumps({"birds": roster(), "units": "metric"}, ensure_ascii=False, indent=1) + "\n")
    if args.sound:
        sound()
    if args.photos:
        photos(args.photos)


if __name__ == "__main__":
    main()
