"""Rides for the comparison of speeds, from a fixed seed: the same files at every call, whatever the machine.

`make(folder, rides)` writes
  day/    86,400 seconds without a hole in the power, every column filled where a real ride fills it;
  long/   four hours in sixty blocks, with single seconds, short stretches and long ones missing;
  rides/  as many rides of ten minutes as wanted, some nine hours apart, each with its own start, rating and threshold.
Their samples are of sixty-four sorts, so that ten thousand of them are made in a minute.
"""

from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np

SEED = 20261129
HEAD = ("ridden_s,plan_s,utc,block,kind,mode,effort,lane_w,brake_target,brake_unit,released,brake_could_w,power_w,"
        "cadence_rpm,heart_rate_bpm,speed_kmh,distance_m,w_balance_j,power_from,cadence_from,heart_rate_from")
SORTS = 64
# Best means are told for these, in seconds.
LENGTHS = (1, 5, 10, 15, 30, 60, 120, 180, 300, 480, 600, 1200, 1800, 3600)
EFFORTS = {"warm-up": 3.0, "hold": 7.0, "recovery": 4.0, "cool-down": 2.0}
SHARES = [0.0, 0.20, 0.37, 0.47, 0.55, 0.63, 0.73, 0.82, 0.91, 1.02]
MARK = "version 1\n"


def cells(values, decimals):
    return ["" if np.isnan(value) else f"{value:.{decimals}f}" for value in values]


def samples(rng, blocks, threshold, start, holes):
    """The lines of `samples.csv` of blocks, each a kind and its seconds. `holes`: whether sensors are lost now and then."""
    seconds = sum(length for _, length in blocks)
    kinds = [kind for kind, length in blocks for _ in range(length)]
    number = np.repeat(np.arange(1, len(blocks) + 1), [length for _, length in blocks])
    effort = np.array([EFFORTS[kind] for kind in kinds])
    lane = np.round(np.interp(effort, range(10), SHARES) * threshold, 1)
    # The brake is told to build up over six seconds, and gets there with a lag of two.
    told, could = lane.copy(), lane.copy()
    for at in range(1, seconds):
        told[at] = min(lane[at], told[at - 1] + max(0.0, lane[at] - lane[at - 6] if at >= 6 else 0.0) / 6) if lane[at] > told[at - 1] else lane[at]
        told[at] = told[at] if told[at] > 0 else lane[at]
        could[at] = could[at - 1] + (told[at] - could[at - 1]) * 0.4
    told, could = np.round(told), np.round(could, 1)
    slow = np.convolve(rng.normal(0, 9, seconds + 120), np.ones(40) / 40, "valid")[:seconds] * 4
    power = np.round(np.clip(could + slow + rng.normal(0, 6, seconds), 0, None), 1)
    cadence = np.round(86 + 2 * np.sin(np.arange(seconds) / 37) + rng.normal(0, 1.2, seconds), 1)
    heart = np.empty(seconds)
    beat = 90.0
    for at in range(seconds):
        beat += (75 + 0.42 * power[at] - beat) / 45
        heart[at] = beat
    heart = np.round(heart)
    speed = np.round(24 + cadence / 20 + power / 40, 2)
    distance = np.round(np.cumsum(speed / 3.6), 1)
    balance = np.round(np.clip(20000 - np.cumsum(np.where(power > threshold, power - threshold, -0.05)), 4000, 20000))
    if holes:
        for values, share in ((power, 1), (cadence, 2), (heart, 3)):
            for length in (1, 2, 3, 5, 9):
                for at in rng.integers(700, seconds - 700, 2 + share):
                    values[at:at + length] = np.nan
    told_from = [["" if np.isnan(value) else word for value in values]
                 for values, word in ((power, "trainer"), (cadence, "trainer"), (heart, "heart"))]
    moments = [start + timedelta(seconds=second) for second in range(1, seconds + 1)]
    lines = [HEAD]
    for row in zip(range(1, seconds + 1), moments, number, kinds, cells(effort, 2), cells(lane, 1), cells(told, 2),
                   cells(could, 1), cells(power, 1), cells(cadence, 1), cells(heart, 0), cells(speed, 2),
                   cells(distance, 1), cells(balance, 0), *told_from):
        second, utc, block, kind, e, l, b, c, p, r, h, v, d, w, *sources = row
        lines.append(f"{second},{second}.000,{utc:%Y-%m-%dT%H:%M:%S}.000Z,{block},{kind},target-power,{e},{l},{b},W,false,"
                     f"{c},{p},{r},{h},{v},{d},{w},{','.join(sources)}")
    return "\n".join(lines) + "\n"


def write(folder, start, blocks, threshold, text, notes, name):
    folder.mkdir(parents=True)
    about = (f'format = 1\nprogram = "a comparison of speeds"\nstarted = {start:%Y-%m-%dT%H:%M:%SZ}\n[session]\n'
             f'name = "{name}"\nmode = "target-power"\n[rider]\nname = "Trial"\nthreshold_w = {threshold:.1f}\n'
             'power_cap_w = 500.0\nsprint_cap_w = 900.0\n'
             '[[devices]]\nrole = "trainer"\nname = "Hall trainer"\naddress = "AA"\nsimulated = false\n')
    session = f'format = 1\nname = "{name}"\npurpose = "For a comparison and not for legs."\n'
    for kind, length in blocks:
        session += (f'[[block]]\nkind = "{kind}"\ntime = "{length // 60}:{length % 60:02}"\neffort = {EFFORTS[kind]:.0f}\n'
                    'cadence = [80, 90]\n')
    end = start + timedelta(seconds=sum(length for _, length in blocks))
    last = sum(length for _, length in blocks)
    moment = f"{end:%Y-%m-%dT%H:%M:%S}.000Z"
    events = f"ridden_s,plan_s,utc,what,detail\n{last}.000,{last}.000,{moment},end,completed\n"
    events += f"{last}.000,{last}.000,{moment},recording-closed,completed\n"
    for file, content in (("ride.toml", about), ("session.toml", session), ("samples.csv", text), ("events.csv", events),
                          ("rider.toml", f'name = "Trial"\nthreshold = {threshold:.0f}\n'),
                          ("notes.csv", "utc,block,what,rating,text\n" + notes),
                          ("raw.csv", "at_us,input,content,check\n")):
        (folder / file).write_text(content, encoding="utf-8")


def repeats(count, work, rest):
    return [("hold", work), ("recovery", rest)] * count


def make(folder, rides):
    """Everything, where it is not there yet."""
    folder = Path(folder)
    mark = folder / "made"
    wanted = f"{MARK}{SEED}\n{rides}\n"
    if mark.exists() and mark.read_text() == wanted:
        return
    if folder.exists() and any(folder.iterdir()):
        raise SystemExit(f"{folder} holds something else: name an empty folder, or remove it.")
    rng = np.random.default_rng(SEED)
    start = datetime(2026, 11, 1, 6, tzinfo=timezone.utc)
    day = [("warm-up", 600), *repeats(284, 180, 120), ("cool-down", 600)]
    assert sum(length for _, length in day) == 86_400
    write(folder / "day", start, day, 240, samples(rng, day, 240, start, False), "", "A day")
    long = [("warm-up", 840), *repeats(20, 240, 150), *repeats(4, 1200, 120), ("cool-down", 480)]
    assert sum(length for _, length in long) == 14_400
    write(folder / "long", start, long, 240, samples(rng, long, 240, start, True), "", "Four hours")
    short = [("warm-up", 120), *repeats(2, 120, 60), ("cool-down", 120)]
    midnight = datetime(2016, 1, 4, tzinfo=timezone.utc)
    sorts = []
    for sort in range(SORTS):
        begins = midnight + timedelta(minutes=int(rng.integers(0, 23 * 60)), seconds=sort)
        threshold = 200 + sort % 8 * 10
        sorts.append((begins, threshold, samples(rng, short, threshold, begins, False)))
    for index in range(rides):
        begins, threshold, text = sorts[index % SORTS]
        begins += timedelta(days=index * 3640 // max(rides, 1))
        # None of them goes over midnight.
        text = text.replace("2016-01-04T", f"{begins:%Y-%m-%dT}")
        moment = f"{begins + timedelta(minutes=11):%Y-%m-%dT%H:%M:%S}.000Z"
        notes = f"{moment},2,rating,{index % 5 + 5}.0,\n" if index % 3 == 0 else ""
        notes += f"{moment},,rating,{index % 11}.0,\n" if index % 7 else ""
        write(folder / "rides" / f"{begins:%Y-%m-%d %H%M} Pier-{index}", begins, short, threshold, text, notes, f"Pier {index % 12}")
    mark.write_text(wanted)
