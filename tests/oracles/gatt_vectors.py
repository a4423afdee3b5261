#!/usr/bin/env python3
"""Makes tests/data/gatt_vectors.json: octets of Bluetooth characteristics with their fields, by decoders of others.

    pip install bluetooth-sig==0.6.0 bumble==0.0.236
    python3 tests/oracles/gatt_vectors.py > tests/data/gatt_vectors.json

Two decoders read each value, and this script stops where they differ for any reason but those named here:

(a) the decoders of the Python package `bluetooth-sig` 0.6.0 (and for heart rates also those of `bumble` 0.0.236);
(b) a table-driven decoder below, whose tables are the Bluetooth SIG's own GATT Specification Supplement as YAML files,
    which `bluetooth-sig` ships. It knows nothing of any characteristic.

Where they differ, (b) is taken or the field is left out:
- Resistance level of Indoor Bike Data: (b)'s YAML gives the unit as 10 and as 1 in the same entry, (a) takes 10. Only
  the raw number is compared. The YAML has one octet; the Fitness Machine Service 1.0 of 2017 has sint16, and for the
  vectors marked "wide" the type in the table is replaced by that; (a) does not know that form.
- Energy "not available" (FFFF, FFFF, FF; Fitness Machine Service 1.0, 4.9.1.10 to 12): neither maps it; the field is
  expected to be absent.
- Pedal power balance of FF: (a) takes it as unknown, which the Supplement does not say; such values are not made.
- Supported Resistance Level Range in six octets: (a) rejects it; (b) with the types of 2017.
- Fitness Machine Feature, Training Status, Control Point and Status are not in the Supplement: (a) alone. It has no
  names for the target bits 14 to 16, which are not made, and calls machine bit 8 "stair count" where the Fitness
  Machine Service 1.0, 4.3.1.1 has "Stride Count".
"""

import json
import pathlib
import random
import re
import struct

import bluetooth_sig
import yaml
from bluetooth_sig.gatt.characteristics.battery_level import BatteryLevelCharacteristic
from bluetooth_sig.gatt.characteristics.csc_measurement import CSCMeasurementCharacteristic
from bluetooth_sig.gatt.characteristics.cycling_power_measurement import CyclingPowerMeasurementCharacteristic
from bluetooth_sig.gatt.characteristics.fitness_machine_control_point import FitnessMachineControlPointCharacteristic
from bluetooth_sig.gatt.characteristics.fitness_machine_feature import FitnessMachineFeatureCharacteristic
from bluetooth_sig.gatt.characteristics.fitness_machine_status import FitnessMachineStatusCharacteristic
from bluetooth_sig.gatt.characteristics.heart_rate_measurement import HeartRateMeasurementCharacteristic
from bluetooth_sig.gatt.characteristics.indoor_bike_data import IndoorBikeDataCharacteristic
from bluetooth_sig.gatt.characteristics.supported_power_range import SupportedPowerRangeCharacteristic
from bluetooth_sig.gatt.characteristics.supported_resistance_level_range import (
    SupportedResistanceLevelRangeCharacteristic,
)
from bluetooth_sig.gatt.characteristics.training_status import TrainingStatusCharacteristic
from bumble.profiles.heart_rate_service import HeartRateService

DICE = random.Random(20261124)
SUPPLEMENT = pathlib.Path(bluetooth_sig.__file__).parent / "bluetooth_sig" / "gss"

# ---- (b) the table-driven decoder -----------------------------------------------------------------------------------


class Short(Exception):
    pass


def table(name):
    text = (SUPPLEMENT / f"org.bluetooth.characteristic.{name}.yaml").read_text()
    return yaml.safe_load(text)["characteristic"]


def width(kind):
    """Octets of a numeric type, and whether it is signed."""
    found = re.fullmatch(r"(uint|sint)(\d+)", kind)
    return int(found[2]) // 8, found[1] == "sint"


def factor(description):
    """The number that the raw value is multiplied by."""
    found = re.search(r"M = (-?\d+), d = (-?\d+), b = (-?\d+)", description or "")
    return int(found[1]) * 10.0 ** int(found[2]) * 2.0 ** int(found[3]) if found else 1


def plain(name):
    """A field's name as an error of ours gives it: lower case, no remark in brackets."""
    return re.sub(r" \(.*\)", "", name).lower()


def by_table(characteristic, octets, types=None):
    """Every field of a value by its name in the Supplement, and where each ends: ([(name, end)], {name: value})."""
    types = types or {}
    parts = {part["name"].lower(): part for part in characteristic.get("fields", []) if "name" in part}
    flags, at, ends, values = 0, 0, [], {}

    def number(name, kind, description):
        nonlocal at
        size, signed = width(types.get(name, kind))
        if at + size > len(octets):
            raise Short(name)
        raw = int.from_bytes(octets[at : at + size], "little", signed=signed)
        at += size
        ends.append((plain(name), at))
        values[name] = (raw, raw * factor(description))
        return raw

    for field in characteristic["structure"]:
        name, kind, description = field["field"], field["type"], field.get("description", "")
        condition = re.search(r"Present if bit (\d+) of Flags field is set to (\d)", description)
        if condition and (flags >> int(condition[1]) & 1) != int(condition[2]):
            continue
        if kind.startswith("boolean"):
            size = int(re.search(r"\d+", kind)[0]) // 8
            flags = number(name, f"uint{size * 8}", "")
        elif kind == "struct":
            inner = parts[name.lower()]
            if inner.get("size_in_bits"):
                bits = sum(int(sub["size"]) for sub in inner["values"])
                raw = number(name, f"uint{bits}", "")
                del values[name]
                for sub in inner["values"]:
                    values[sub["field"]] = (raw & (1 << int(sub["size"])) - 1,) * 2
                    raw >>= int(sub["size"])
            else:
                for sub in inner["values"]:
                    number(sub["field"], sub["data_type"], sub.get("description", ""))
        elif kind.endswith("[n]"):
            size, _ = width(kind[:-3])
            rest = octets[at:]
            values[name] = [int.from_bytes(rest[i : i + size], "little") for i in range(0, len(rest) - size + 1, size)]
            at += size * len(values[name])
        else:
            number(name, kind, description)
    values["(flags)"] = flags
    return ends, values


def named_bits(characteristic, octets):
    """The names of the set bits of a characteristic that is nothing but bits."""
    _, values = by_table(characteristic, octets)
    names = []
    for entry in characteristic["fields"][0]["values"]:
        if entry["bit"].isdigit() and values["(flags)"] >> int(entry["bit"]) & 1:
            names.append(entry["description"].splitlines()[0].lower().removesuffix(" supported"))
    return names


# ---- comparing ------------------------------------------------------------------------------------------------------


def close(one, other):
    return one == other or (one is not None and other is not None and abs(one - other) < 1e-9)


def agree(uuid, octets, key, one, other):
    if not close(one, other):
        raise SystemExit(f"{uuid} {octets.hex()}: {key} is {one} by bluetooth-sig and {other} by the Supplement")


VECTORS = []


def keep(uuid, octets, fields, by, ends=None):
    VECTORS.append({"uuid": uuid, "hex": octets.hex(), "by": by, "ends": ends or [], "fields": fields})


BOTH = "bluetooth-sig and the Supplement"


def decoded(kind, octets):
    return kind().parse_value(bytearray(octets))


# ---- Indoor Bike Data -----------------------------------------------------------------------------------------------

BIKE = [  # our key, the Supplement's name, bluetooth-sig's name
    ("speed_kmh", "Instantaneous Speed", "instantaneous_speed"),
    ("average_speed_kmh", "Average Speed", "average_speed"),
    ("cadence_rpm", "Instantaneous Cadence", "instantaneous_cadence"),
    ("average_cadence_rpm", "Average Cadence", "average_cadence"),
    ("distance_m", "Total Distance", "total_distance"),
    ("resistance_raw", "Resistance Level", None),
    ("power_w", "Instantaneous Power", "instantaneous_power"),
    ("average_power_w", "Average Power", "average_power"),
    ("energy_kcal", "Total Energy", "total_energy"),
    ("energy_kcal_per_hour", "Energy Per Hour", "energy_per_hour"),
    ("energy_kcal_per_minute", "Energy Per Minute", "energy_per_minute"),
    ("heart_rate_bpm", "Heart Rate", "heart_rate"),
    ("metabolic_equivalent", "Metabolic Equivalent", "metabolic_equivalent"),
    ("elapsed_s", "Elapsed Time", "elapsed_time"),
    ("remaining_s", "Remaining Time", "remaining_time"),
]
NOT_AVAILABLE = {"Total Energy": 0xFFFF, "Energy Per Hour": 0xFFFF, "Energy Per Minute": 0xFF}
BIKE_SIZES = [2, 2, 2, 3, 1, 2, 2, 5, 1, 1, 2, 2]


def bike(flags, fill, wide=False):
    length = 2 + (0 if flags & 1 else 2)
    length += sum(size for bit, size in enumerate(BIKE_SIZES, 1) if flags >> bit & 1)
    length += 1 if wide and flags >> 5 & 1 else 0
    octets = struct.pack("<H", flags) + fill(length - 2)
    characteristic = table("indoor_bike_data")
    ends, values = by_table(characteristic, octets, {"Resistance Level": "sint16"} if wide else None)
    fields = {"more_data": bool(flags & 1)}
    for key, name, attribute in BIKE:
        raw, value = values.get(name, (None, None))
        if not wide and attribute:
            agree("2AD2", octets, key, getattr(decoded(IndoorBikeDataCharacteristic, octets), attribute), value)
        if key == "resistance_raw" or NOT_AVAILABLE.get(name) == raw:
            value = None if name in NOT_AVAILABLE else raw
        fields[key] = value
    keep("2AD2", octets, fields, "the Supplement, resistance as in 2017" if wide else BOTH, ends)


def dice(length):
    return bytes(DICE.randrange(256) for _ in range(length))


def ones(length):
    return b"\xff" * length


def zeros(length):
    return b"\x00" * length


for fill in (zeros, ones, dice, dice):
    bike(0, fill)
    bike(1, fill)
    for bit in range(1, 13):
        bike(1 << bit, fill)
        bike(1 << bit | 1, fill)
    bike(0x1FFE, fill)
for _ in range(150):
    bike(DICE.randrange(0x2000), dice)
for _ in range(60):
    bike(DICE.randrange(0x2000) | 0x20, dice, wide=True)
bike(0x20, zeros, wide=True)
bike(0x21, ones, wide=True)

# ---- Cycling Power Measurement --------------------------------------------------------------------------------------

POWER = [
    ("power_w", "Instantaneous Power", "instantaneous_power"),
    ("balance_percent", "Pedal Power Balance", "pedal_power_balance"),
    ("torque_nm", "Accumulated Torque", "accumulated_torque"),
    ("wheel_revolutions", "Cumulative Wheel Revolutions", "cumulative_wheel_revolutions"),
    ("wheel_event_s", "Last Wheel Event Time", "last_wheel_event_time"),
    ("crank_revolutions", "Cumulative Crank Revolutions", "cumulative_crank_revolutions"),
    ("crank_event_s", "Last Crank Event Time", "last_crank_event_time"),
    ("most_force_n", "Maximum Force Magnitude", "maximum_force_magnitude"),
    ("least_force_n", "Minimum Force Magnitude", "minimum_force_magnitude"),
    ("most_torque_nm", "Maximum Torque Magnitude", "maximum_torque_magnitude"),
    ("least_torque_nm", "Minimum Torque Magnitude", "minimum_torque_magnitude"),
    ("most_angle_degrees", "Maximum Angle", "maximum_angle"),
    ("least_angle_degrees", "Minimum Angle", "minimum_angle"),
    ("top_dead_spot_degrees", "Top Dead Spot Angle", "top_dead_spot_angle"),
    ("bottom_dead_spot_degrees", "Bottom Dead Spot Angle", "bottom_dead_spot_angle"),
    ("energy_kj", "Accumulated Energy", "accumulated_energy"),
]
POWER_SIZES = {0: 1, 2: 2, 4: 6, 5: 4, 6: 4, 7: 4, 8: 3, 9: 2, 10: 2, 11: 2}


def power(flags, fill):
    length = 2 + sum(size for bit, size in POWER_SIZES.items() if flags >> bit & 1)
    octets = bytearray(struct.pack("<H", flags) + fill(length))
    if flags & 1 and octets[4] == 0xFF:
        octets[4] = 0xFE
    octets = bytes(octets)
    ends, values = by_table(table("cycling_power_measurement"), octets)
    theirs = decoded(CyclingPowerMeasurementCharacteristic, octets)
    fields = {
        "balance_of": "left" if flags >> 1 & 1 else "unknown side",
        "torque_at": "crank" if flags >> 3 & 1 else "wheel",
        "offset_compensation_asked": bool(flags >> 12 & 1),
    }
    for key, name, attribute in POWER:
        _, fields[key] = values.get(name, (None, None))
        if key == "energy_kj" and fields[key] is not None:
            fields[key] /= 1000  # the Supplement's base unit is the joule
        agree("2A63", octets, key, getattr(theirs, attribute), fields[key])
    keep("2A63", octets, fields, BOTH, ends)


for fill in (zeros, ones, dice):
    power(0, fill)
    for bit in range(13):
        power(1 << bit, fill)
    power(0x1FFF, fill)
for _ in range(120):
    power(DICE.randrange(0x2000), dice)

# ---- CSC Measurement ------------------------------------------------------------------------------------------------

CSC = [
    ("wheel_revolutions", "Cumulative Wheel Revolutions", "cumulative_wheel_revolutions"),
    ("wheel_event_s", "Last Wheel Event Time", "last_wheel_event_time"),
    ("crank_revolutions", "Cumulative Crank Revolutions", "cumulative_crank_revolutions"),
    ("crank_event_s", "Last Crank Event Time", "last_crank_event_time"),
]


def csc(flags, fill):
    octets = bytes([flags]) + fill(6 * (flags & 1) + 4 * (flags >> 1 & 1))
    ends, values = by_table(table("csc_measurement"), octets)
    theirs = decoded(CSCMeasurementCharacteristic, octets)
    fields = {}
    for key, name, attribute in CSC:
        _, fields[key] = values.get(name, (None, None))
        agree("2A5B", octets, key, getattr(theirs, attribute), fields[key])
    keep("2A5B", octets, fields, BOTH, ends)


for flags in range(4):
    for fill in (zeros, ones, *[dice] * 8):
        csc(flags, fill)

# ---- Heart Rate Measurement -----------------------------------------------------------------------------------------


def heart(flags, rate, intervals):
    octets = bytes([flags])
    octets += struct.pack("<H", rate) if flags & 1 else bytes([rate])
    octets += struct.pack("<H", DICE.randrange(0x10000)) if flags & 8 else b""
    octets += struct.pack(f"<{len(intervals)}H", *intervals)
    ends, values = by_table(table("heart_rate_measurement"), octets)
    theirs = decoded(HeartRateMeasurementCharacteristic, octets)
    third = HeartRateService.HeartRateMeasurement.from_bytes(octets)
    name = f"Heart Rate Measurement Value ({16 if flags & 1 else 8} bit resolution)"
    fields = {
        "heart_rate_bpm": values[name][0],
        "energy_kj": values.get("Energy Expended", (None,))[0],
        "contact": {2: "none", 3: "yes"}.get(flags >> 1 & 3, "not supported"),
        "intervals_ms": [raw / 1024 * 1000 for raw in values.get("RR-interval", [])],
    }
    agree("2A37", octets, "rate", theirs.heart_rate, fields["heart_rate_bpm"])
    agree("2A37", octets, "rate", third.heart_rate, fields["heart_rate_bpm"])
    agree("2A37", octets, "energy", theirs.energy_expended, fields["energy_kj"])
    agree("2A37", octets, "energy", third.energy_expended, fields["energy_kj"])
    contact = {None: "not supported", False: "none", True: "yes"}[third.sensor_contact_detected]
    assert contact == fields["contact"], octets.hex()
    for their_intervals in (theirs.rr_intervals, third.rr_intervals or ()):
        assert len(their_intervals) == len(fields["intervals_ms"]), octets.hex()
        for one, other in zip(their_intervals, fields["intervals_ms"]):
            agree("2A37", octets, "interval", one * 1000, other)
    keep("2A37", octets, fields, "bumble, " + BOTH, ends)


for flags in range(32):
    for _ in range(3):
        rate = DICE.randrange(256, 0x10000) if flags & 1 else DICE.randrange(256)
        count = DICE.choice([1, 2, 9]) if flags & 16 else 0
        heart(flags, rate, [DICE.randrange(0x10000) for _ in range(count)])

# ---- what is only bits ----------------------------------------------------------------------------------------------

RENAMED = {"sensor measurement context": "sensor measurement context: torque"}


def bits(uuid, name, octets):
    names = [RENAMED.get(one, one) for one in named_bits(table(name), octets)]
    keep(uuid, octets, {"features": names}, "the Supplement")


for bit in range(20):
    bits("2A65", "cycling_power_feature", struct.pack("<I", 1 << bit))
for _ in range(10):
    bits("2A65", "cycling_power_feature", struct.pack("<I", DICE.randrange(1 << 20)))
for value in range(8):
    bits("2A5C", "csc_feature", struct.pack("<H", value))


def flag_names(flags):
    names = []
    for flag in type(flags):
        if flag in flags:
            name = flag.name.lower().replace("_", " ").removesuffix(" supported")
            for words in (" target setting", "targeted ", " configuration", " parameters"):
                name = name.replace(words, "")
            names.append({"stair count": "stride count"}.get(name, name))
    return names


def feature(machine, targets):
    octets = struct.pack("<II", machine, targets)
    theirs = decoded(FitnessMachineFeatureCharacteristic, octets)
    fields = {
        "measures": flag_names(theirs.fitness_machine_features),
        "targets": flag_names(theirs.target_setting_features),
    }
    ends = [("fitness machine features", 4), ("target setting features", 8)]
    keep("2ACC", octets, fields, "bluetooth-sig", ends)


feature(0, 0)
for bit in range(17):
    feature(1 << bit, 0)
for bit in range(14):
    feature(0, 1 << bit)
for _ in range(20):
    feature(DICE.randrange(1 << 17), DICE.randrange(1 << 14))

# ---- ranges, battery ------------------------------------------------------------------------------------------------


def power_range(least, most, step):
    octets = struct.pack("<hhH", least, most, step)
    ends, values = by_table(table("supported_power_range"), octets)
    theirs = decoded(SupportedPowerRangeCharacteristic, octets)
    fields = {
        "least_w": values["Minimum Power"][0],
        "most_w": values["Maximum Power"][0],
        "step_w": values["Minimum Increment"][0],
    }
    agree("2AD8", octets, "least", theirs.minimum, fields["least_w"])
    agree("2AD8", octets, "most", theirs.maximum, fields["most_w"])
    agree("2AD8", octets, "step", theirs.minimum_increment, fields["step_w"])
    keep("2AD8", octets, fields, BOTH, ends)


power_range(0, 1000, 1)
power_range(50, 400, 5)
power_range(-100, 2000, 10)
for _ in range(10):
    least = DICE.randrange(-500, 500)
    power_range(least, least + DICE.randrange(3000), DICE.randrange(1, 100))


def resistance_range(octets, wide):
    types = {"Minimum Resistance Level": "sint16", "Maximum Resistance Level": "sint16", "Minimum Increment": "uint16"}
    ends, values = by_table(table("supported_resistance_level_range"), octets, types if wide else None)
    names = ("Minimum Resistance Level", "Maximum Resistance Level", "Minimum Increment")
    if not wide:
        theirs = decoded(SupportedResistanceLevelRangeCharacteristic, octets)
        for name, value in zip(names, (theirs.minimum, theirs.maximum, theirs.minimum_increment)):
            agree("2AD6", octets, name, value, values[name][1])
    # The unit is 0.1 by the service of 2017; see the note on the resistance level above.
    fields = {key: values[name][0] / 10 for key, name in zip(("least_level", "most_level", "step_level"), names)}
    keep("2AD6", octets, fields, "the Supplement, types as in 2017" if wide else BOTH, ends)


resistance_range(bytes.fromhex("0a0040010a00"), True)
resistance_range(bytes([0, 200, 10]), False)
for _ in range(8):
    least = DICE.randrange(100)
    resistance_range(bytes([least, DICE.randrange(least, 256), DICE.randrange(1, 30)]), False)
    resistance_range(struct.pack("<hhH", -least, DICE.randrange(2000), DICE.randrange(1, 50)), True)

for level in (0, 1, 50, 99, 100):
    ends, values = by_table(table("battery_level"), bytes([level]))
    agree("2A19", bytes([level]), "level", decoded(BatteryLevelCharacteristic, bytes([level])), level)
    keep("2A19", bytes([level]), {"level_percent": level}, BOTH, ends)

# ---- status, control point: bluetooth-sig gives codes and raw parameters --------------------------------------------

for code in range(16):
    for text in ("", "Interval 3 of 8", "Höhe 12 m"):
        octets = bytes([1 if text else 0, code]) + text.encode()
        theirs = decoded(TrainingStatusCharacteristic, octets)
        words = theirs.training_status.name.lower().replace("_", " ")
        words = words.replace(" workout", "-workout").replace("region ", "region, ")
        fields = {"status_code": code, "status": words, "text": theirs.training_status_string}
        keep("2AD3", octets, fields, "bluetooth-sig", [("flags", 1), ("training status", 2)])

REQUESTS = [
    "00", "01", "02c409", "030f00", "0478", "047800", "05fa00", "0696", "07", "0801", "0802",
    "11000026022833", "110000bbfe2833", "121452", "1301", "1302", "14b400",
]  # fmt: skip
for text in REQUESTS:
    octets = bytes.fromhex(text)
    theirs = decoded(FitnessMachineControlPointCharacteristic, octets)
    keep("2AD9", octets, {"op": int(theirs.op_code)}, "bluetooth-sig")
for op in (0, 1, 4, 5, 7, 8, 0x11, 0x13):
    for result in range(1, 6):
        octets = bytes([0x80, op, result])
        theirs = decoded(FitnessMachineControlPointCharacteristic, octets)
        fields = {
            "message": "response",
            "op": int(theirs.response_op_code),
            "result_code": int(theirs.result_code),
        }
        ends = [("op code", 1), ("request op code", 2), ("result code", 3)]
        keep("2AD9", octets, fields, "bluetooth-sig", ends)

STATUSES = [
    "01", "0201", "0202", "03", "04", "05c409", "060f00", "077800", "08c800", "0996", "0a6400", "0b6400", "0c6400",
    "0d102700", "0e0807", "0f2c012c01", "102c012c012c01", "112c012c012c012c012c01", "12000026022833", "135208",
    "1401", "1402", "1403", "1404", "15b400", "ff",
]  # fmt: skip
for text in STATUSES:
    octets = bytes.fromhex(text)
    theirs = decoded(FitnessMachineStatusCharacteristic, octets)
    keep("2ADA", octets, {"code": int(theirs.op_code)}, "bluetooth-sig")

# ---- the file -------------------------------------------------------------------------------------------------------

print("{")
print(' "made_by": "tests/oracles/gatt_vectors.py",')
print(' "decoders": ["PyPI bluetooth-sig 0.6.0", "PyPI bumble 0.0.236", "GATT Specification Supplement, YAML"],')
print(' "note": "A field of null must be absent. ends: where each field ends, in octets; a cut before it names it.",')
print(' "vectors": [')
print(",\n".join("  " + json.dumps(vector, ensure_ascii=False) for vector in VECTORS))
print(" ]")
print("}")
