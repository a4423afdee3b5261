#!/usr/bin/env python3
"""Judges rides against the Bluetooth bench by the bench's own log: what arrived at the emulated trainer.

    check_ride.py LOGS HERE CASE...

LOGS holds trainer.log and btmon.txt of the run and rides/CASE/ with the recording, what was printed and the exit
status; HERE holds the sessions and the rider. Expected figures are reckoned here from those files, not taken from the
program. Op codes and results: Fitness Machine Service 1.0, 4.16. Rows of the conformance page that the cases show are
compared with rows.json beside this, from which the page is made; STILLROAD_WRITE_DOCS=1 writes it anew after a whole run.
"""
import csv
import datetime
import json
import os
import pathlib
import sys
import tomllib

REQUEST_CONTROL, RESET, TARGET_POWER, START, STOP = 0x00, 0x01, 0x05, 0x07, 0x08
LOWEST_POWER = 0  # of the emulated trainer's supported power range, 0 to 2000 W


class Case:
    """One case: its part of the log, and what was found wrong."""

    def __init__(self, name, lines, folder, session, rider):
        self.name, self.folder, self.faults = name, folder, []
        # Rows of the conformance page that this case tried, and whether it showed them.
        self.shown = {}
        self.lines = lines
        self.trainer = [line for line in lines if line["dev"] == "Rig Trainer"]
        self.writes = [line for line in self.trainer if line["ev"] == "cp write"]
        with open(session, "rb") as file:
            self.blocks = tomllib.load(file)["block"]
        with open(rider, "rb") as file:
            self.rider = tomllib.load(file)
        self.rows = self.read_rows()

    def expect(self, right, says):
        if not right:
            self.faults.append(says)

    def shows(self, row, right, says):
        """What `expect` does, and that it is a row of docs/conformance.md that was tried by it."""
        self.shown[row] = self.shown.get(row, True) and bool(right)
        self.expect(right, f"{row}: {says}")

    # ------------------------------------------------------------ the recording

    def read_rows(self):
        found = list(self.folder.rglob("samples.csv"))
        if len(found) != 1:
            return []
        with open(found[0], newline="") as file:
            return list(csv.DictReader(file))

    def said(self):
        return self.text("printed.txt") + self.text("errors.txt")

    def expect_words(self, *wanted):
        for words in wanted:
            self.expect(words in self.said(), f"it was not said that {words!r}: {self.said()[-400:]}")

    def text(self, name):
        path = self.folder / name
        return path.read_text() if path.exists() else ""

    def began(self):
        """Wall-clock time of the ride's start: each row is stamped at the end of its second."""
        first = self.rows[0]
        stamp = datetime.datetime.fromisoformat(first["utc"].replace("Z", "+00:00")).timestamp()
        return stamp - float(first["ridden_s"])

    def took(self):
        """Seconds from the case's mark to the one that says it is over; for ever where it is not."""
        ends = [line["t"] for line in self.lines if line["ev"] == "mark"]
        return ends[-1] - ends[0] if len(ends) >= 2 else float("inf")

    # ------------------------------------------------------------ what is expected

    def targets(self):
        """(start, end, watts) of each block, seconds from the ride's start, under the rider's caps."""
        start, all_blocks = 0, []
        for block in self.blocks:
            minutes, seconds = block["time"].split(":")
            end = start + 60 * int(minutes) + int(seconds)
            cap = self.rider["sprint_cap"] if block["kind"] == "sprint" else self.rider["power_cap"]
            all_blocks.append((start, end, min(block["watts"], cap)))
            start = end
        return all_blocks

    def length(self):
        return self.targets()[-1][1]

    # ------------------------------------------------------------ checks

    def check_status(self, wanted):
        self.expect(self.text("status").strip() == str(wanted),
                    f"exit status {self.text('status').strip() or 'none'}, not {wanted}: {self.text('errors.txt')[-400:]}")

    def check_rows(self):
        numbers = [int(float(row["ridden_s"])) for row in self.rows]
        self.expect(numbers == list(range(1, len(numbers) + 1)), "the rows' seconds are not 1, 2, 3 …")
        self.expect(abs(len(numbers) - self.length()) <= 1, f"{len(numbers)} rows for {self.length()} s")

    def check_manners(self):
        """What holds on every connection whatever happens."""
        asked = granted = indicated = False
        pending = None
        for line in self.trainer:
            event = line["ev"]
            if event == "connected":
                asked = granted = indicated = False
                pending = None
            elif event == "subscription" and line["char"] == "2ad9":
                indicated = line["indicate"]
            elif event == "cp write":
                value = bytes.fromhex(line["value"])
                at = f"at {line['t']} s"
                self.expect("att_error" not in line, f"write {line['value']} {at} was refused: {line.get('att_error')}")
                self.shows("C28", indicated, f"write {line['value']} {at} before indications were enabled")
                self.shows("C32", pending is None, f"write {line['value']} {at} while {pending} was not answered")
                self.expect(asked or value == b"\0", f"write {line['value']} {at} before control was asked for")
                self.expect(granted or value[0] == REQUEST_CONTROL, f"write {line['value']} {at} without control")
                asked, pending = True, line["value"]
                self.shows("C47", value[0] in (REQUEST_CONTROL, TARGET_POWER, START, STOP, 0x04),
                           f"op {value[0]:02x} {at} is not one that this ride needs")
            elif event == "cp indication":
                answer = bytes.fromhex(line["value"])
                pending = None
                if answer[1] == REQUEST_CONTROL:
                    granted = answer[2] == 1
                elif answer[2] == 5:
                    granted = False
        cap = max(watts for _, _, watts in self.targets())
        for line, watts in self.powers():
            self.expect(LOWEST_POWER <= watts <= cap, f"{watts} W at {line['t']} s, above every target under the caps ({cap})")
        times = [line["t"] for line, _ in self.powers()]
        for first, fifth in zip(times, times[5:]):
            # Four a second are allowed; the bench's own delays may push one more into a second.
            self.expect(fifth - first >= 1.0, f"more than five targets in the second from {first} s")

    def powers(self):
        return [(line, int.from_bytes(bytes.fromhex(line["value"])[1:3], "little", signed=True))
                for line in self.writes if line["value"].startswith("05")]

    def target_at(self, second):
        """The last power that the trainer had taken at this second of the ride."""
        at = self.began() + second
        taken = [watts for line, watts in self.powers() if line["wall"] <= at and line.get("result") == 1]
        return taken[-1] if taken else None

    def check_targets(self, tolerance=1):
        """At the end of each block, before the next can be led into, its target stands; and never more than allowed."""
        blocks = self.targets()
        for start, end, watts in blocks:
            stands = self.target_at(end - 2.2)
            self.expect(stands is not None and abs(stands - watts) <= tolerance,
                        f"block {start}-{end} s: {stands} W stood at its end, not {watts}")
        began = self.began()
        for line, watts in self.powers():
            second = line["wall"] - began
            # A rise may be led by two seconds, a fall may lag by three: the greatest of the targets near by binds.
            near = [w for start, end, w in blocks if start - 2.5 <= second <= end + 3.5]
            self.expect(watts <= max(near, default=LOWEST_POWER) + tolerance,
                        f"{watts} W at second {second:.1f}, where {near} are planned")

    def check_power(self, share=0.08):
        """The power in the last three seconds of each block, as recorded, lies near its target."""
        for start, end, watts in self.targets():
            values = [float(row["power_w"]) for row in self.rows[end - 4:end - 1] if row["power_w"]]
            self.expect(bool(values), f"block {start}-{end} s: no power recorded at its end")
            if values:
                mean = sum(values) / len(values)
                self.expect(abs(mean - watts) <= share * watts + 2, f"block {start}-{end} s: {mean:.0f} W recorded, not {watts}")

    def check_release(self):
        """The last words: the lowest power, then stop; then the link is closed."""
        accepted = [line["value"] for line in self.writes if line.get("result") == 1]
        lowest = "05" + LOWEST_POWER.to_bytes(2, "little", signed=True).hex()
        self.expect(accepted[-2:] == [lowest, "0801"], f"the last writes were {accepted[-2:]}, not {[lowest, '0801']}")
        self.shows("C71", bool(self.trainer) and any(line["ev"] == "disconnected" for line in self.trainer[-4:]),
                   "the link was not closed")

    def check_subscriptions(self):
        """On each connection data and status are turned on before the first write."""
        links = [index for index, line in enumerate(self.trainer) if line["ev"] == "connected"]
        for start, end in zip(links, links[1:] + [len(self.trainer)]):
            on, written = set(), False
            for line in self.trainer[start:end]:
                if line["ev"] == "subscription" and (line["notify"] or line["indicate"]):
                    on.add(line["char"])
                elif line["ev"] == "cp write" and not written:
                    written = True
                    self.shows("C56", "2ada" in on, f"status was not turned on before the first write of the link at {self.trainer[start]['t']} s")
            self.shows("C16", "2ad2" in on, f"bike data was not turned on over the link at {self.trainer[start]['t']} s")

    def check_controls(self, least, most):
        asked = sum(line["value"] == "00" for line in self.writes)
        self.expect(least <= asked <= most, f"control was asked for {asked} times, not {least} to {most}")


def plain(case):
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    case.check_subscriptions()
    case.check_controls(1, 1)
    case.check_targets()
    case.check_power()
    case.check_release()
    case.expect(all(not row["heart_rate_bpm"] for row in case.rows), "a heart rate was recorded without a strap")


def stop(case):
    """Told to stop in mid-ride: the brake is let off within a second, the trainer stopped, what was ridden kept."""
    case.check_status(1)
    case.check_manners()
    case.check_release()
    case.expect_words("Stopped", "rows kept")
    case.expect(len(case.rows) >= 5, f"{len(case.rows)} rows of some ten seconds")
    told = next((line["t"] for line in case.lines if line["ev"] == "mark" and line["text"] == "told to stop"), None)
    let_off = [line["t"] for line in case.writes if line["value"] == "050000"][-1:]
    # The command that sends the signal takes a moment of its own to end.
    case.expect(told is not None and bool(let_off) and let_off[0] - told <= 1.5, f"told at {told} s, let off at {let_off} s")


def sensors(case):
    plain_but_heart(case)
    hearts = [float(row["heart_rate_bpm"]) for row in case.rows if row["heart_rate_bpm"]]
    case.expect(len(hearts) >= len(case.rows) - 4, f"{len(hearts)} heart rates in {len(case.rows)} rows")
    case.expect(all(abs(bpm - 132) <= 1 for bpm in hearts), "a heart rate is not the strap's 132")
    # The emulated meter is not on the emulated trainer: it shows its own 140 W whatever the brake does.
    late = [float(row["power_w"]) for row in case.rows[6:] if row["power_w"]]
    case.expect(len(late) > 12 and all(abs(watts - 140) <= 3 for watts in late), "the power is not the chosen meter's 140 W")
    devices = json.loads(case.text("devices.json") or "{}")
    can = {device["name"]: device["can"] for device in devices.get("devices", [])}
    case.expect(devices.get("trouble", "?") is None, f"listening had trouble: {devices.get('trouble')}")
    case.expect("trainer" in can.get("Rig Trainer", []), f"the trainer was not listed: {can}")
    case.expect(can.get("Rig Heart") == ["heart"], f"the strap was not listed: {can}")
    case.expect(can.get("Rig Meter") == ["meter", "cadence"], f"the meter was not listed: {can}")


def plain_but_heart(case):
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    case.check_controls(1, 1)
    case.check_release()


def levels_of(case):
    """The levels that the trainer took, raw: tenths, one octet or two."""
    taken = [line["value"] for line in case.writes if line["value"].startswith("04") and line.get("result") == 1]
    return [int.from_bytes(bytes.fromhex(value)[1:], "little", signed=len(value) > 4) for value in taken]


def refuse(case):
    """Target power refused as not supported: tried, given up, and the watts held by levels, from the lowest on."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    tried = len(case.powers())
    case.shows("C42", 1 <= tried <= 2, f"a refused kind of target was written {tried} times")
    case.expect(any(row["power_w"] for row in case.rows), "no power was recorded")
    case.expect_words("cannot hold watts by itself")
    levels = levels_of(case) or [-1]
    case.expect(levels[0] == 0 and levels[-1] == 0, f"the level did not begin and end at its lowest: {levels}")
    case.expect([line["value"] for line in case.writes][-1:] == ["0801"], "the ride did not end with a stop")
    case.expect(all(row["mode"] == "target-power" for row in case.rows), "the rows do not say that watts were held")
    powers = [float(row["power_w"]) for row in case.rows if row["power_w"]]
    case.expect(max(powers, default=0) <= case.rider["power_cap"], f"{max(powers, default=0)} W were ridden over the cap")


def steered(case):
    """The same, long enough to come near, on a trainer that wants its levels as words: by the rig's law they make
    40 W and 4 W a level."""
    refuse(case)
    start, end, watts = case.targets()[1]
    late = [float(row["power_w"]) for row in case.rows[end - 12:end - 1] if row["power_w"]]
    mean = sum(late) / max(len(late), 1)
    case.expect(abs(mean - watts) <= 0.08 * watts, f"{mean:.0f} W at the end of the hold, not {watts}")
    levels = levels_of(case)
    most = max(levels, default=0)
    case.expect(40 + 0.4 * most <= 1.15 * watts, f"level {most / 10} makes {40 + 0.4 * most} W, for {watts} W")
    words = {len(line["value"]) for line in case.writes if line["value"].startswith("04") and line.get("result") == 1}
    case.expect(words == {6}, f"levels were not written as words alone: {words}")


def failing(case):
    """Every target power fails (04): said, tried again in decent pauses, nothing else than that."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    case.expect_words("did not take")
    case.expect(2 <= len(case.powers()) <= 12, f"{len(case.powers())} targets were tried")
    case.expect([line["value"] for line in case.writes][-1:] == ["0801"], "the ride did not end with a stop")


def no_start(case):
    """A trainer that knows no start and fails to stop: none the worse."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    case.check_controls(1, 1)
    case.check_targets()


def no_range(case):
    """No range of powers: the rider's own caps bind."""
    plain_but_heart(case)
    case.check_targets()


def late(case):
    """Answers after a second and a half: waited for, one at a time; a release that takes so long is said."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    case.check_controls(1, 1)
    case.check_release()
    case.expect(case.target_at(case.targets()[1][1] - 2.2) == 130, "the hold's watts did not stand at its end")


def overlap(case):
    """A trainer that would take a second command before it has answered the first is given none."""
    plain_but_heart(case)


def taken_silently(case):
    """Control goes without a word: learned from the next answer, and asked for again."""
    case.check_status(0)
    case.check_rows()
    denied = [line["t"] for line in case.writes if line.get("result") == 5]
    case.expect(bool(denied), "the bench did not take control away")
    for at in denied:
        later = [line for line in case.writes if line["t"] > at]
        case.expect(not later or later[0]["value"] == "00", f"after result 05 at {at} s came {later[0]['value'] if later else ''}")
    case.expect_words("no longer lets this program set its brake")


def lost(case):
    """Control is taken away three seconds after each grant: asked for again, within limits, and no target without it."""
    case.check_status(0)
    case.check_rows()
    losses = [line["t"] for line in case.trainer if line["ev"] == "control lost"]
    case.expect(len(losses) >= 1, "the bench did not take control away")
    # A write may already be on its way when the notice arrives.
    for loss in losses:
        later = [line for line in case.writes if line["t"] > loss + 0.5]
        case.shows("C59", not later or later[0]["value"] == "00",
                   f"after control was lost at {loss} s the next write was {later[0]['value'] if later else ''}")
    case.check_controls(2, len(losses) + 4)
    denied = sum(line.get("result") == 5 for line in case.writes)
    case.shows("C45", denied <= len(losses) + 2, f"{denied} writes without control")


def split(case):
    """Each report comes in two notifications, More Data first and the speed in the second: nothing of either is lost."""
    plain_but_heart(case)
    late = case.rows[4:]
    for column in ("power_w", "cadence_rpm", "speed_kmh"):
        case.expect(bool(late) and all(row[column] for row in late), f"{column} is missing in some rows")


def levels(case):
    """Target power refused, and levels taken only in two octets: ridden by effort at a level in that form."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    taken = [line["value"] for line in case.writes if line["value"].startswith("04") and line.get("result") == 1]
    case.expect(bool(taken) and all(len(value) == 6 for value in taken), f"levels of two octets were taken: {taken}")
    case.expect(all(row["mode"] == "effort-only" for row in case.rows[3:]), "the rows do not say that it was ridden by effort")


def drop(case):
    """The link is lost once in the hold: made again, set up as the first time, and the load comes back from release."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    links = [index for index, line in enumerate(case.trainer) if line["ev"] == "connected"]
    case.expect(len(links) == 2, f"{len(links)} links, not 2")
    if len(links) == 2:
        again = case.trainer[links[1]:]
        case.check_subscriptions()
        case.shows("C64", {line["char"] for line in again if line["ev"] == "subscription" and (line["notify"] or line["indicate"])}
                   >= {"2ad9", "2ad2", "2ada"}, "not everything was subscribed to again")
        words = [line["value"] for line in again if line["ev"] == "cp write"]
        powers = [word for word in words if word.startswith("05")]
        case.shows("C64", words[:1] == ["00"], f"the first write on the new link was {words[:1]}")
        lowest = "05" + LOWEST_POWER.to_bytes(2, "little", signed=True).hex()
        case.expect(powers[:1] == [lowest], f"the first target on the new link was {powers[:1]}, not release")
        case.expect(case.target_at(33) == 150, f"{case.target_at(33)} W stood before the hold's end, not 150")
    case.expect(any(not row["power_w"] for row in case.rows), "power was recorded while the link was lost")
    case.check_release()


def silent(case):
    """Targets are never answered: after thirty seconds the link is closed and made again, and control asked for anew."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    case.expect_words("did not answer for thirty seconds", "may hold its last load")
    links = [index for index, line in enumerate(case.trainer) if line["ev"] == "connected"]
    case.shows("C36", len(links) >= 2, "the link was not made again")
    if len(links) >= 2:
        first = case.trainer[links[0]:links[1]]
        mute = next((line["t"] for line in first if line["ev"] == "cp write" and line["value"].startswith("05")), None)
        closed = next((line["t"] for line in first if line["ev"] == "disconnected"), None)
        case.shows("C36", mute is not None and closed is not None and 29 <= closed - mute <= 38,
                   f"written at {mute} s, and the link was closed at {closed} s")
        later = [line["value"] for line in first if line["ev"] == "cp write" and line["t"] > (mute or 0)]
        case.shows("C35", not later, f"after it was silent, {later} was written on the same link")
        again = [line["value"] for line in case.trainer[links[1]:] if line["ev"] == "cp write"]
        case.expect(again[:1] == ["00"], f"the first write on the new link was {again[:1]}")


def encrypted(case):
    """A control point that wants pairing, and nobody to pair: ridden without the brake, and how to pair is said."""
    case.check_status(0)
    case.check_rows()
    case.expect_words("pair")
    case.expect(not [line for line in case.writes if line.get("result") == 1], "something was written all the same")
    case.expect(any(row["power_w"] for row in case.rows), "no power was recorded")


def paired(case):
    """A control point that wants pairing, and an agent that pairs without a question: the whole ride is ridden."""
    case.check_status(0)
    case.check_rows()
    accepted = [line["value"] for line in case.writes if line.get("result") == 1]
    case.shows("C68", accepted[:1] == ["00"] and any(value.startswith("05") and value != "050000" for value in accepted),
               f"the control point was not used after pairing: {accepted}")
    case.check_release()


def split(case):
    """Each record comes in two notifications: power in the first, speed in the last."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    case.expect(case.target_at(17) == 130, f"{case.target_at(17)} W stood before the hold's end, not 130")
    # A machine that is short of time brings a record late now and then.
    both = sum(bool(row["power_w"] and row["speed_kmh"]) for row in case.rows)
    case.shows("C18", both >= 0.8 * len(case.rows), f"{both} rows of {len(case.rows)} have both power and speed")


def late(case):
    """Answers come two seconds after their writes: never two at once, and the newest target is what is sent next."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    powers = [watts for _, watts in case.powers()]
    case.expect(130 in powers and len(powers) >= 3, f"the targets were {powers}")


def heart_only(case):
    """No trainer, only a strap: the session leads all the same."""
    case.check_status(0)
    case.check_rows()
    hearts = [float(row["heart_rate_bpm"]) for row in case.rows if row["heart_rate_bpm"]]
    case.expect(len(hearts) >= len(case.rows) - 3, f"{len(hearts)} heart rates in {len(case.rows)} rows")
    case.expect(all(abs(bpm - 127) <= 1 for bpm in hearts), "a heart rate is not the strap's 127")
    case.expect(all(not row["power_w"] for row in case.rows), "power was recorded without a trainer")


def comes_back(case, least):
    """On each link anew: control first, then release, and at the end the load stands and is let off."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    links = [index for index, line in enumerate(case.trainer) if line["ev"] == "connected"]
    case.expect(len(links) >= least, f"{len(links)} links, not {least} at least")
    lowest = "05" + LOWEST_POWER.to_bytes(2, "little", signed=True).hex()
    for number, begin in enumerate(links):
        end = links[number + 1] if number + 1 < len(links) else len(case.trainer)
        words = [line["value"] for line in case.trainer[begin:end] if line["ev"] == "cp write"]
        powers = [word for word in words if word.startswith("05")]
        case.expect(words[:1] in ([], ["00"]), f"the first write on link {number + 1} was {words[:1]}")
        case.expect(powers[:1] in ([], [lowest]), f"the first target on link {number + 1} was {powers[:1]}, not release")
    case.expect(any(not row["power_w"] for row in case.rows), "power was recorded while the link was lost")
    case.expect(any(row["power_w"] for row in case.rows[-5:]), "no power was recorded at the end")
    case.check_release()


def drops(case):
    """The link is lost again and again."""
    comes_back(case, 3)


def adapter_midway(case):
    """The adapter is pulled out in mid-ride and put back."""
    comes_back(case, 2)


def service(case):
    """The system's Bluetooth service is killed in mid-ride; it is started anew by the next call."""
    comes_back(case, 2)


def straps(case):
    """Two straps: the second one's heart rate counts once the first is switched off, with at most a few seconds between."""
    plain_but_heart(case)
    off = next((line["wall"] for line in case.lines if line["ev"] == "mark" and line["text"] == "first strap off"), None)
    hearts = [float(row["heart_rate_bpm"]) if row["heart_rate_bpm"] else None for row in case.rows]
    at = int(off - case.began()) if off else 0
    case.expect(off is not None and 8 < at < len(hearts) - 10, f"the strap was switched off at {at} s")
    early, late = hearts[3:at - 1], hearts[at + 8:]
    case.expect(bool(early) and all(bpm is not None and abs(bpm - 130) <= 1 for bpm in early), f"not the first strap's 130: {early}")
    case.expect(bool(late) and all(bpm is not None and abs(bpm - 141) <= 1 for bpm in late), f"not the second strap's 141: {late}")
    events = next(iter(case.folder.rglob("events.csv")), None)
    case.expect(events is not None and "second heart strap" in events.read_text(), "the recording does not say whose heart rate it is")


def refused_to_start(case, *words):
    case.expect(case.text("status").strip() == "1", f"exit status {case.text('status').strip()}, not 1")
    case.expect_words(*words, "The ride did not begin")
    case.expect(not case.rows, "something was recorded")
    case.expect(not case.writes, "something was written to a trainer")


def wrong(case):
    """A strap asked for as trainer."""
    case.expect(case.text("status").strip() == "1", f"exit status {case.text('status').strip()}, not 1")
    case.expect_words("Rig Heart is not a trainer")
    case.expect(not case.rows, "something was recorded")


def notfound(case):
    """A device that is nowhere: a sentence within its time."""
    refused_to_start(case, "Not heard within", "Rig Nobody (trainer)", "stillroad devices")
    case.expect(case.took() <= 60, f"it took {case.took():.0f} s to say so")


def adapter(case):
    """No adapter: refused with a sentence, nothing written to anybody."""
    refused_to_start(case, "no Bluetooth adapter")
    devices = json.loads(case.text("devices.json") or "{}")
    case.expect("no Bluetooth adapter" in (devices.get("trouble") or ""), "the listing does not say why")


CASES = {
    "plain": ("session.toml", plain), "stop": ("short.toml", stop), "sensors": ("brief-session.toml", sensors), "refuse": ("brief-session.toml", refuse),
    "lost": ("brief-session.toml", lost), "drop": ("short.toml", drop), "silent": ("short.toml", silent),
    "split": ("brief-session.toml", split), "levels": ("brief-session.toml", levels),
    "encrypted": ("brief-session.toml", encrypted), "heart-only": ("brief-session.toml", heart_only), "wrong": ("brief-session.toml", wrong),
    "drops": ("short.toml", drops), "adapter-midway": ("short.toml", adapter_midway), "service": ("short.toml", service), "straps": ("short.toml", straps),
    "steered": ("steered-session.toml", steered), "failing": ("brief-session.toml", failing),
    "no-start": ("brief-session.toml", no_start), "no-range": ("brief-session.toml", no_range),
    "late": ("brief-session.toml", late), "overlap": ("brief-session.toml", overlap),
    "taken-silently": ("brief-session.toml", taken_silently),
    "notfound": ("brief-session.toml", notfound), "adapter": ("brief-session.toml", adapter),
    "conform-paired": ("brief-session.toml", paired), "conform-split": ("brief-session.toml", split),
    "conform-late": ("brief-session.toml", late),
}
# Of these no recording is expected.
NOTHING_RIDDEN = ("wrong", "notfound", "adapter")


def main():
    logs, here, names = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), sys.argv[3:]
    lines = [json.loads(line) for line in (logs / "trainer.log").read_text().splitlines()]
    parts, current = {}, None
    for line in lines:
        if line["ev"] == "mark" and line["text"].startswith("case "):
            current = line["text"].removeprefix("case ")
        if current:
            parts.setdefault(current, []).append(line)
    failed, shown = False, {}
    # Writes without response would not show in the trainer's own log; the capture of the air has them.
    commands = (logs / "btmon.txt").read_text(errors="replace").count("ATT: Write Command")
    requests = (logs / "btmon.txt").read_text(errors="replace").count("ATT: Write Request")
    if commands or not requests:
        failed = True
        print(f"FAILED: C29: {commands} writes without response, {requests} with")
    else:
        shown["C29"] = ["every case"]
    for name in names:
        session, judge = CASES[name]
        case = Case(name, parts.get(name, []), logs / "rides" / name, here / session, here / "rider.toml")
        if name not in NOTHING_RIDDEN and not case.rows:
            case.expect(False, f"nothing was recorded; {case.text('errors.txt')[-400:]}")
        else:
            judge(case)
        failed |= bool(case.faults)
        for row in (row for row, right in case.shown.items() if right):
            shown.setdefault(row, []).append(name)
        print(f"{name}: {'FAILED' if case.faults else 'passed'} ({len(case.rows)} rows, {len(case.writes)} writes)")
        for fault in case.faults[:20]:
            print(f"  {fault}")
        if len(case.faults) > 20:
            print(f"  and {len(case.faults) - 20} more")
    failed |= not check_page(shown, names, here / "rows.json")
    sys.exit(failed)


def check_page(shown, names, kept):
    """Whether the rows of docs/conformance.md that say so were shown by this run: by each case of it, where not all ran."""
    shown = {row: shown[row] for row in sorted(shown, key=lambda row: int(row[1:]))}
    whole = set(names) == set(CASES)
    if whole and os.environ.get("STILLROAD_WRITE_DOCS"):
        kept.write_text(json.dumps(shown, indent=1) + "\n")
    wanted = json.loads(kept.read_text())
    if not whole:
        wanted = {row: [case for case in cases if case in names or case == "every case"] for row, cases in wanted.items()}
        wanted = {row: cases for row, cases in wanted.items() if cases}
    missing = [f"{row} by {case}" for row, cases in wanted.items() for case in cases if case not in shown.get(row, [])]
    surplus = [f"{row} by {case}" for row, cases in shown.items() for case in cases if case not in wanted.get(row, [])]
    for what, which in (("not shown, and docs/conformance.md says so", missing), ("shown, and not in rows.json", surplus)):
        if which:
            print(f"FAILED: rows {what}: {', '.join(which)}")
    return not missing and not surplus


if __name__ == "__main__":
    main()
