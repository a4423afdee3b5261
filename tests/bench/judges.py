"""What each case on the Bluetooth bench has to show. Op codes and results: Fitness Machine Service 1.0, 4.16."""
import json

from ride_case import LOWEST_POWER


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
    """Every target power fails (04): said, tried again in decent pauses, nothing else than that. One that is lower than
    what was refused waits for no more than the beat of four a second: a load may stand all the same."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    case.expect_words("did not take")
    tried = [(line["wall"], watts) for line, watts in case.powers() if watts > LOWEST_POWER]
    for (before, refused), (at, watts) in zip(tried, tried[1:]):
        pause = 1.8 if watts >= refused else 0.2
        case.expect(at - before >= pause, f"{watts} W were tried {at - before:.2f} s after {refused} W were refused")
    risen = 1 + sum(watts >= refused for (_, refused), (_, watts) in zip(tried, tried[1:]))
    case.expect(2 <= risen <= 12, f"{risen} targets were tried that were no lower than the one before")
    case.expect([line["value"] for line in case.writes][-1:] == ["0801"], "the ride did not end with a stop")


def no_start(case):
    """A trainer that knows no start and fails to stop: none the worse."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    case.check_controls(1, 1)
    case.expect(case.target_at(17) == 130, f"{case.target_at(17)} W stood before the hold's end, not 130")


def no_range(case):
    """No range of powers: the rider's own caps bind."""
    plain_but_heart(case)
    case.expect(case.target_at(17) == 130, f"{case.target_at(17)} W stood before the hold's end, not 130")


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
    both = sum(bool(row["power_w"] and row["speed_kmh"]) for row in case.rows)
    case.shows("C18", both >= 0.8 * len(case.rows), f"{both} rows of {len(case.rows)} have both power and speed")


def levels(case):
    """Target power refused, and levels taken only in two octets: steered by levels in that form."""
    case.check_status(0)
    case.check_rows()
    case.check_manners()
    taken = [line["value"] for line in case.writes if line["value"].startswith("04") and line.get("result") == 1]
    case.expect(bool(taken) and all(len(value) == 6 for value in taken), f"levels of two octets were taken: {taken}")
    events = next(iter(case.folder.rglob("events.csv")), None)
    case.expect(events is not None and ",slow-hold," in events.read_text(), "the recording does not say how the watts were held")


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
    "paired": ("brief-session.toml", paired),
}
# Of these no recording is expected.
NOTHING_RIDDEN = ("wrong", "notfound", "adapter")
