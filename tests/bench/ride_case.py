"""One case of a run on the Bluetooth bench: its recording, the bench's log of it, and what was found wrong."""
import csv
import datetime
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
