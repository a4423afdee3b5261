#!/usr/bin/env python3
"""Reckons the figures of a review again, from the ride's own files alone, and compares them with `review --json`.

Usage: review_figures.py REVIEW.json FOLDER

Everything is worked out by pandas, numpy and scipy from samples.csv, events.csv, notes.csv and raw.csv, with the rider's
map from rider.toml; none of the program's code is used. Prints how many figures were compared and how far the worst lay
off; exit 1 with a line for each that lies outside its tolerance. Needs pandas 2, numpy and scipy.

Tolerances: 1e-6 of a figure where both reckon from the same decimals; 0.2 W for written watts, which are reckoned here
from efforts that are kept to two decimals; 1 ms and 1e-6 of the power in sprints; seconds and counts exactly.
"""

import json
import math
import sys
import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import stats

GAP = 3
compared, wrong, worst = 0, [], 0.0


def check(where, found, expected, within=1e-6):
    """`within` is a share of the figure, and at least that much as such."""
    global compared, worst
    compared += 1
    missing = [value is None or (isinstance(value, float) and math.isnan(value)) for value in (found, expected)]
    if any(missing):
        if not all(missing):
            wrong.append(f"{where}: {found} for {expected}")
        return
    off = abs(found - expected)
    worst = max(worst, off / max(1.0, abs(expected)) / within)
    if off > within * max(1.0, abs(expected)):
        wrong.append(f"{where}: {found} for {expected}")


def mean(values):
    values = pd.Series(values, dtype=float).dropna()
    return float(values.mean()) if len(values) else None


def uneven(values):
    values = values.dropna()
    return float(np.std(values) / np.mean(values)) if len(values) and np.mean(values) > 0 else None


def half(watts, held):
    return np.maximum(watts * np.where(held, 0.05, 0.09), 4.0)


def torque(rows):
    turning = rows["cadence_rpm"].where(rows["cadence_rpm"] > 0)
    return rows["power_w"] / (turning * 2 * np.pi / 60)


def written_watts(rows, folder, threshold):
    """From the effort of each second by the rider's map; none where the map has no figure, nor for level and slope."""
    rider = tomllib.loads((folder / "rider.toml").read_text(encoding="utf-8"))
    shares = rider.get("effort_map", [0.0, 0.20, 0.37, 0.47, 0.55, 0.63, 0.73, 0.82, 0.91, 1.02])
    if isinstance(shares, dict) or len(shares) != 10:
        return None
    efforts = written_efforts(rows, folder) if (folder / "written.toml").exists() else rows["effort"]
    watts = np.interp(efforts, range(10), shares) * threshold
    return pd.Series(watts, index=rows.index).where(efforts <= 9.0)


def unrolled(path):
    """Each block of a session as often as it is ridden: its length in seconds and its effort, one figure or two."""
    def seconds(text):
        total = 0
        for part in text.split(":"):
            total = total * 60 + float(part)
        return total

    def blocks(tables):
        for table in tables:
            if "repeat" in table:
                for _ in range(table["repeat"]):
                    yield from blocks(table["block"])
            else:
                yield seconds(table["time"]), table.get("effort")

    return list(blocks(tomllib.loads(path.read_text(encoding="utf-8"))["block"]))


def written_efforts(rows, folder):
    """Of a session that was fitted to the day: the effort of the written block that each ridden one is, at the same share
    of its length."""
    ridden, written = unrolled(folder / "session.toml"), unrolled(folder / "written.toml")
    about = tomllib.loads((folder / "ride.toml").read_text(encoding="utf-8"))
    starts = np.cumsum([0.0] + [length for length, _ in ridden])
    numbers = about["fitted"]["blocks"]
    check("fitted blocks", len(numbers), len(ridden))

    def effort(number, plan_s):
        asked = written[numbers[number - 1] - 1][1]
        share = min(max((plan_s - starts[number - 1]) / ridden[number - 1][0], 0.0), 1.0)
        if isinstance(asked, list):
            return asked[0] + (asked[1] - asked[0]) * share
        return math.nan if asked is None else float(asked)

    return pd.Series([effort(*row) for row in zip(rows["block"], rows["plan_s"])], index=rows.index)


def fitted_layer(told, folder):
    """What the review says of a session that was fitted."""
    if not (folder / "written.toml").exists():
        check("not fitted", told["fitted"], None)
        return
    about = tomllib.loads((folder / "ride.toml").read_text(encoding="utf-8"))
    written = unrolled(folder / "written.toml")
    check("written length", told["fitted"]["written_s"], sum(length for length, _ in written))
    for block in told["blocks"]:
        check(f"{block['name']} written block", block["written_block"], about["fitted"]["blocks"][block["block"] - 1])


def layer(name, told, rows, values):
    known = values.dropna()
    check(f"{name} mean", told["mean_w"], float(known.mean()) if len(known) else None, 0.2 if "written" in name else 1e-6)
    check(f"{name} seconds", told["seconds"], len(known))
    both = values.notna() & rows["power_w"].notna()
    inside = (rows["power_w"] - values).abs() <= half(values, rows["held"]) + 1e-9
    check(f"{name} compared", told["compared_s"], int(both.sum()))
    if "written" not in name:
        check(f"{name} in lane", told["in_lane_s"], int((inside & both).sum()))


def deviation(name, told, rows):
    both = rows["lane_w"].notna() & rows["power_w"].notna()
    off = both & ((rows["power_w"] - rows["lane_w"]).abs() > half(rows["lane_w"], rows["held"]) + 1e-9)
    check(f"{name} off lane", told["off_lane_s"], int(off.sum()))
    power, lane, could = rows["power_w"], rows["lane_w"], rows["brake_could_w"]
    margin = np.maximum(power.abs() * 0.03, 4.0)
    reach = power.clip(could - margin, could + margin).where(could.notna())
    held = rows["held"]
    parts = pd.DataFrame({
        "told": np.where(held, rows["commanded"] - lane, 0.0),
        "brake": np.where(held, reach - rows["commanded"], 0.0),
        "legs": np.where(held, power - reach, power - lane),
    }, index=rows.index)
    known = both & parts.notna().all(axis=1)
    check(f"{name} split seconds", told["seconds"], int(known.sum()))
    check(f"{name} deviation", told["mean_w"], mean((power - lane)[known]))
    for part in parts:
        check(f"{name} {part}", told[f"{part}_w"], mean(parts[part][known]))
    pulls = parts.mul(np.sign(power - lane), axis=0)[known & off].round(9)
    by = pulls.idxmax(axis=1) if len(pulls) else pd.Series(dtype=object)
    for part in parts:
        check(f"{name} off by {part}", told[f"off_by_{part}_s"], int((by == part).sum()))


def block(name, told, rows, events, notes, written):
    check(f"{name} ridden", told["ridden_s"], len(rows))
    check(f"{name} start", told["start_s"], int(rows["ridden_s"].iloc[0]) - 1)
    check(f"{name} effort", told["effort"], mean(rows["effort"]))
    check(f"{name} power", told["power_w"], mean(rows["power_w"]))
    check(f"{name} unevenness", told["unevenness"], uneven(rows["power_w"]))
    layer(f"{name} today", told["fitted"], rows, rows["lane_w"])
    layer(f"{name} commanded", told["commanded"], rows, rows["commanded"])
    if written is not None and not told["all_out"]:
        layer(f"{name} written", told["written"], rows, written.loc[rows.index])
    deviation(name, told["deviation"], rows)

    inside = ((rows["power_w"] - rows["lane_w"]).abs() <= half(rows["lane_w"], rows["held"]) + 1e-9).to_numpy()
    ten = pd.Series(inside.astype(float)).rolling(10).min()
    settled = ten.index[ten == 1.0]
    check(f"{name} settle", told["settle_s"], int(settled[0]) - 9 if len(settled) else None)
    early = (rows["power_w"] - rows["lane_w"]).iloc[: min(30, len(rows) // 3)]
    three = early.rolling(3).mean().max()
    check(f"{name} overshoot", told["overshoot_w"], None if math.isnan(three) else max(0.0, float(three)))

    if len(rows) >= 60:
        rest = rows.iloc[10:]
        third = len(rest) // 3
        first, last = rest.iloc[:third], rest.iloc[len(rest) - third:]
        for key, of in (("power_w", lambda r: r["power_w"]), ("cadence_rpm", lambda r: r["cadence_rpm"]),
                        ("torque_nm", torque), ("heart_rate_bpm", lambda r: r["heart_rate_bpm"])):
            a, b = mean(of(first)), mean(of(last))
            check(f"{name} fade {key}", told["fade"][key], None if a is None or b is None else b - a)
    else:
        check(f"{name} fade", told["fade"], None)

    cadence = rows["cadence_rpm"].dropna()
    check(f"{name} cadence", told["cadence"]["mean_rpm"], mean(cadence))
    check(f"{name} cadence spread", told["cadence"]["deviation_rpm"], float(np.std(cadence)) if len(cadence) else None)
    if told["cadence"]["band_rpm"] and len(cadence):
        low, high = told["cadence"]["band_rpm"]
        check(f"{name} in band", told["cadence"]["in_band_s"], int(cadence.between(low, high).sum()))
    heart = rows["heart_rate_bpm"]
    start, end = heart.iloc[:10].dropna(), heart.iloc[-10:].dropna()
    check(f"{name} heart start", told["heart"]["start_bpm"], float(start.iloc[0]) if len(start) else None)
    check(f"{name} heart end", told["heart"]["end_bpm"], float(end.iloc[-1]) if len(end) else None)
    check(f"{name} heart mean", told["heart"]["mean_bpm"], mean(heart))
    evenness = uneven(rows["power_w"])
    late = rows.iloc[180:].dropna(subset=["heart_rate_bpm"])
    if (len(rows) >= 1200 and rows["power_w"].count() >= 0.9 * len(rows) and evenness is not None and evenness <= 0.10
            and len(late) >= 0.9 * (len(rows) - 180)):
        slope = stats.linregress(late["ridden_s"], late["heart_rate_bpm"]).slope * 600
        check(f"{name} heart rise", told["heart"]["rise_bpm_per_10_min"], float(slope), 1e-5)
    else:
        check(f"{name} heart rise", told["heart"]["rise_bpm_per_10_min"], None)

    from_s, to_s = rows["ridden_s"].iloc[0] - 1, rows["ridden_s"].iloc[-1]
    inside = events[(events["ridden_s"] >= from_s) & (events["ridden_s"] < to_s)]["what"]
    for key, word in (("trims", "trim"), ("ease_downs", "ease-down"), ("eased_by_hand", "ease-block"),
                      ("guards", "guard"), ("brake_off", "brake-off"), ("pauses", "pause")):
        check(f"{name} {key}", told["helps"][key], int((inside == word).sum()))
    rated = notes[(notes["what"] == "rating") & (notes["block"] == rows["block"].iloc[0])]["rating"]
    check(f"{name} rating", told["rating"], float(rated.iloc[-1]) if len(rated) else None)
    check(f"{name} W left", told["w_left_j"], float(rows["w_balance_j"].iloc[-1]))


def best_means(ride, rows):
    """By pandas: short gaps bridged in a straight line; a longer gap, or a pause, cuts the ride."""
    ridden, utc = rows["ridden_s"], rows["utc"].astype("int64") // 10**6
    stood = utc.diff() - ridden.diff() * 1000
    piece = (stood > GAP * 1000).cumsum().to_numpy()
    pieces = []
    for _, part in rows.groupby(piece):
        power = part.set_index("ridden_s")["power_w"]
        power = power.reindex(range(power.index[0], power.index[-1] + 1))
        holes = power.isna()
        runs = holes.groupby((~holes).cumsum()).transform("sum")
        bridged = power.interpolate(limit_area="inside")
        bridged[holes & (runs > GAP)] = np.nan
        pieces.extend(run.dropna() for _, run in bridged.groupby((bridged.isna()).cumsum()) if run.notna().any())
    told = ride["best_means_every_second_w"]
    longest = max((len(piece) for piece in pieces), default=0)
    check("best means: longest", len(told), min(3600, longest))
    lengths = [*range(1, 121), *range(130, 3600, 97), 3600, len(told)]
    for length in sorted(set(lengths)):
        if 1 <= length <= len(told):
            means = [piece.rolling(length).mean().max() for piece in pieces if len(piece) >= length]
            check(f"best mean of {length} s", told[length - 1], float(max(means)), 1e-6)
    for best in ride["best_means"]:
        seconds = best["seconds"]
        check(f"best mean told of {seconds} s", best["mean_w"], told[seconds - 1] if seconds <= len(told) else None)


def channel(name, told, values, ridden):
    whole = pd.Series(values.to_numpy(), index=ridden).reindex(range(1, int(ridden.iloc[-1]) + 1))
    holes = whole.isna()
    runs = holes.groupby((~holes).cumsum()).sum()
    gaps = runs[runs > GAP]
    check(f"{name} seconds", told["seconds"], int(whole.count()))
    check(f"{name} gaps", told["gaps"], len(gaps))
    check(f"{name} longest gap", told["longest_gap_s"], int(gaps.max()) if len(gaps) else None)
    check(f"{name} mean", told["mean"], mean(whole))
    check(f"{name} most", told["most"], float(whole.max()) if whole.notna().any() else None)


def recovery(told, rows, result):
    start = result["start_s"]
    minute = rows[(rows["ridden_s"] >= start) & (rows["ridden_s"] <= start + 60)]
    whole = len(minute) == 61 and result["ridden_s"] >= 60
    if whole:
        span = (minute["utc"].iloc[-1] - minute["utc"].iloc[0]).total_seconds()
        steps = minute["utc"].diff().dt.total_seconds().iloc[1:]
        whole = span < 61 and bool((steps < 2).all())
    fall = minute["heart_rate_bpm"].iloc[0] - minute["heart_rate_bpm"].iloc[-1] if whole else None
    check(f"{told['name']} fall", told["fall_bpm"], None if fall is None or math.isnan(fall) else float(fall))
    check(f"{told['name']} power", told["power_over_60_s_w"], mean(minute["power_w"].iloc[1:]) if whole else None)
    inside = rows[(rows["ridden_s"] > start) & (rows["ridden_s"] <= start + result["ridden_s"])]
    check(f"{told['name']} over lane", told["over_lane_w"], mean(inside["power_w"] - inside["lane_w"]))
    cadence = inside["cadence_rpm"].dropna()
    check(f"{told['name']} turning", told["turning"], float((cadence > 20).mean()) if len(cadence) else None)


def reports(folder, events, about):
    """Power as it was sent, with the wall's time: the offset under which the ride's end falls on an input is tried."""
    raw = pd.read_csv(folder / "raw.csv", dtype={"content": "string"})
    at = raw["at_us"].to_numpy() // 1000
    handled = events[~events["what"].str.startswith("recording-") & ~events["what"].isin(["gap", "pause", "raw-stopped"])]
    moments = (handled["utc"].astype("int64") // 10**6).to_numpy()
    end = int(events.loc[events["what"] == "end", "utc"].astype("int64").iloc[0] // 10**6)
    known = set(at.tolist())
    offsets = sorted({end - int(one) for one in at})
    hits = [sum(int(moment) - offset in known for moment in moments) for offset in offsets]
    offset = offsets[int(np.argmax(hits))]
    roles = {device["role"]: device["address"] for device in about.get("devices", [])}
    source, number = (roles["meter"], 0x2A63) if "meter" in roles else (roles.get("trainer"), 0x2AD2)
    found = []
    for when, content in zip(at, raw["content"]):
        if pd.isna(content) or '"notified"' not in content:
            continue
        device, characteristic, octets = json.loads(content)["device"]["notified"]
        if device != source or characteristic != number:
            continue
        octets = bytes(octets)
        flags = int.from_bytes(octets[:2], "little")
        place = 2
        if number == 0x2AD2:
            # Fields before the power: speed unless bit 0, then those of bits 1 to 5 by their widths.
            place += 0 if flags & 1 else 2
            place += sum(width for bit, width in ((1, 2), (2, 2), (3, 2), (4, 3), (5, 2)) if flags >> bit & 1)
            if not flags >> 6 & 1:
                continue
        found.append((int(when) + offset, int.from_bytes(octets[place:place + 2], "little", signed=True)))
    return np.array(found, dtype=float).reshape(-1, 2)


def sprint(told, result, rows, sent):
    inside = rows[(rows["ridden_s"] > result["start_s"]) & (rows["ridden_s"] <= result["start_s"] + result["ridden_s"])]
    last = inside["utc"].iloc[-1].value // 10**6
    first = inside["utc"].iloc[0].value // 10**6 - 1000
    if told["source"] != "reports":
        wrong.append(f"{told['name']}: from rows although there are reports")
        return
    # Each millisecond of the block has the value that stood then, for three seconds at most.
    line = np.arange(first, last)
    place = np.searchsorted(sent[:, 0], line, side="right") - 1
    power = np.where((place >= 0) & (line - sent[place, 0] < 3000), sent[place, 1], np.nan)
    seconds = pd.Series(power).rolling(1000).mean()
    check(f"{told['name']} peak", told["peak_w"], float(seconds.max()))
    check(f"{told['name']} to peak", told["to_peak_s"], (int(seconds[seconds >= seconds.max() - 1e-6].index[0]) + 1) / 1000, 0.0011)
    check(f"{told['name']} mean", told["mean_w"], float(np.nanmean(power)))
    after = seconds.iloc[round(told["to_peak_s"] * 1000) - 1:]
    check(f"{told['name']} fatigue", told["fatigue"], float((seconds.max() - after.min()) / seconds.max()))
    apart = np.sort(np.diff(sent[(sent[:, 0] >= sent[place[0], 0]) & (sent[:, 0] < last), 0]))
    check(f"{told['name']} resolution", told["resolution_s"], float(apart[(len(apart) - 1) // 2]) / 1000)


def noted(said, rows, events, notes):
    """The marks with the figures of the row in whose second each lies, and the last that was told of the day."""
    marks = events[(events["what"] == "mark") & events["detail"].astype(str).str.fullmatch(r"[1-9]\d{0,2}")]
    check("marks", len(said["marks"]), len(marks))
    clock = events[events["what"].isin(["start", "pause", "resume", "taken-up"])]
    for told, (index, mark) in zip(said["marks"], marks.iterrows()):
        where = f"mark {mark['detail']}"
        check(where, told["number"], int(mark["detail"]))
        check(f"{where}, at", told["at_s"], mark["ridden_s"])
        before = clock[clock.index < index]["what"]
        stood = bool(len(before) and before.iloc[-1] == "pause")
        check(f"{where}, paused", int(told["paused"]), int(stood))
        row = rows[rows["ridden_s"] == max(1, math.ceil(mark["ridden_s"]))]
        for key, column in (
            ("effort", "effort"),
            ("lane_w", "lane_w"),
            ("power_w", "power_w"),
            ("cadence_rpm", "cadence_rpm"),
            ("heart_rate_bpm", "heart_rate_bpm"),
        ):
            check(f"{where}, {key}", told[key], None if stood or row.empty else float(row[column].iloc[0]))
        words = notes[notes["what"].isin([f"mark-{mark['detail']}", f"coach-mark-{mark['detail']}"])]["text"]
        check(f"{where}, words", int([one["text"] for one in told["words"]] == list(words)), 1)
    day = said["day"]
    for key, what in (("room_c", "room"), ("sleep_h", "sleep"), ("soreness", "soreness")):
        figures = notes[notes["what"] == what]["text"].astype(str).str.lstrip("'")
        check(key, day[key], float(figures.iloc[-1]) if len(figures) else None)
    fans = notes[notes["what"] == "fan"]["text"]
    check("fan", int(day["fan"] == (fans.iloc[-1] if len(fans) else None)), 1)
    remarks = notes[notes["what"].isin(["remark", "coach"])]["text"]
    check("remarks", int([one["text"] for one in said["remarks"]] == list(remarks)), 1)


def main(arguments):
    if len(arguments) != 2:
        print(__doc__)
        return 2
    review = json.loads(Path(arguments[0]).read_text(encoding="utf-8"))
    folder = Path(arguments[1])
    told = review["rides"][0]
    ride = told["ride"]
    check("version", review["version"], 1)
    about = tomllib.loads((folder / "ride.toml").read_text(encoding="utf-8"))
    rows = pd.read_csv(folder / "samples.csv", parse_dates=["utc"])
    events = pd.read_csv(folder / "events.csv", parse_dates=["utc"])
    # A note may say "none", which is a word here.
    notes = pd.read_csv(folder / "notes.csv", keep_default_na=False, na_values={"block": [""], "rating": [""]})
    held = (rows["mode"] == "target-power") & (rows["brake_unit"] == "W") & rows["brake_target"].notna()
    rows["held"] = held
    told_watts = rows["brake_target"].where(rows["brake_unit"] == "W")
    rows["commanded"] = told_watts.where(rows["released"].astype(str).str.lower() != "true")
    written = written_watts(rows, folder, about["rider"]["threshold_w"])

    number = (rows["block"] != rows["block"].shift()).cumsum()
    pieces = [piece for _, piece in rows.groupby(number)]
    check("blocks", len(told["blocks"]), len(pieces))
    for result, piece in zip(told["blocks"], pieces):
        block(f"{result['name']} {result['repeat'] or ''}".strip(), result, piece, events, notes, written)

    work = float(rows["power_w"].clip(lower=0).sum()) if rows["power_w"].notna().any() else None
    check("work", ride["work_j"], work)
    if work is not None:
        check("food energy", ride["food_energy"]["kcal"], work / 1000 / 0.22 / 4.184)
        check("food energy, most", ride["food_energy"]["most_kcal"], work / 1000 / 0.20 / 4.184)
        check("food energy, least", ride["food_energy"]["least_kcal"], work / 1000 / 0.25 / 4.184)
    check("unevenness", ride["unevenness"], uneven(rows["power_w"]))
    check("ridden", ride["ridden_s"], int(rows["ridden_s"].iloc[-1]))
    for name, column in (("power", "power_w"), ("cadence", "cadence_rpm"), ("heart_rate", "heart_rate_bpm")):
        channel(name, ride[name], rows[column], rows["ridden_s"])
    rated = notes[(notes["what"] == "rating") & notes["block"].isna()]["rating"]
    check("load", ride["load"], float(rated.iloc[-1]) * ride["ridden_s"] / 60 if len(rated) else None)
    best_means(ride, rows)

    for one in told["recoveries"]:
        result = next(b for b in told["blocks"] if b["block"] == one["block"])
        recovery(one, rows, result)
    if told["sprints"]["each"]:
        sent = reports(folder, events, about)
        for one in told["sprints"]["each"]:
            result = next(b for b in told["blocks"] if b["block"] == one["block"])
            sprint(one, result, rows, sent)
        means = [one["mean_w"] for one in told["sprints"]["each"] if one["whole"]]
        if len(means) > 1:
            check("decrement", told["sprints"]["decrement"], 1 - np.mean(means) / max(means))
            check("fatigue index", told["sprints"]["fatigue_index"], (max(means) - min(means)) / max(means))

    noted(told["said"], rows, events, notes)
    fitted_layer(told, folder)
    print(f"{folder.name}: {compared} figures compared, {len(wrong)} wrong; the worst lies at {worst:.3f} of its tolerance")
    for line in wrong[:40]:
        print(f"wrong: {line}", file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
