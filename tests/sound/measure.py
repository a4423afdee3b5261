"""Measures a recording of session.toml: every tone by its pitch and its second, the words by their place, silence elsewhere.

Expected times are written down from the lengths in session.toml; pitches from docs/sound.md. Usage: measure.py RAW
(one channel, 16 bits, 22,050 a second). Exit status: 0 where all is as it should be.
"""

import sys

import numpy as np

RATE = 22_050
FRAME = 220  # ten milliseconds
QUIET = 300  # of 32,768: under a hundredth of full scale

# Seconds after the session began, and hertz at the start of the tone; 22, 42 and 52 s are the blocks' ends.
TONES = (
    [(0, 660), (12, 784)] + [(t, 1046) for t in range(17, 22)]
    + [(22, 880), (32, 784)] + [(t, 1046) for t in range(37, 42)]
    + [(42, 660)] + [(t, 1046) for t in range(47, 52)]
)
# Words: from when at the earliest and at the latest they begin. The second cue waits for the beat.
WORDS = [(3.85, 4.5), (22.3, 22.9)]
END = 52.0
LATE = 0.5  # what the rule allows, beside the first tone, whose own delay is not known here; how much it was is printed
STUTTER = 1.1  # on a busy machine the server breaks a tone into pieces: told, and no fault of the program's
PITCH = 12.0  # hertz: fifty milliseconds of a tone give no finer


def pitch(samples):
    """The strongest frequency, by a parabola through the peak of the spectrum."""
    windowed = samples * np.hanning(len(samples))
    spectrum = np.abs(np.fft.rfft(windowed, 1 << 15))
    peak = int(np.argmax(spectrum))
    below, at, above = np.log(spectrum[peak - 1 : peak + 2] + 1e-9)
    offset = 0.5 * (below - above) / (below - 2 * at + above)
    return (peak + offset) * RATE / (1 << 15)


def stretches(samples):
    """Where it is loud: beginnings and ends in seconds; holes of under 30 ms are not silence."""
    frames = np.abs(samples[: len(samples) // FRAME * FRAME]).reshape(-1, FRAME).max(axis=1)
    loud = np.flatnonzero(frames > QUIET)
    if not len(loud):
        return []
    groups = np.split(loud, np.flatnonzero(np.diff(loud) > 4) + 1)
    return [(group[0] * FRAME / RATE, (group[-1] + 1) * FRAME / RATE) for group in groups]


def main():
    samples = np.fromfile(sys.argv[1], dtype="<i2").astype(float)
    found = stretches(samples)
    wrong = []
    if not found:
        print("nothing was heard")
        return 1
    origin = found[0][0]
    worst = 0.0
    taken, broken = set(), 0
    for second, hertz in TONES:
        near = [(abs(begin - origin - second), begin, end) for begin, end in found]
        distance, begin, end = min(near)
        heard = samples[int((begin + 0.005) * RATE) : int((begin + 0.055) * RATE)]
        heard_hertz = pitch(heard)
        worst = max(worst, distance)
        taken.add(begin)
        if distance > LATE:
            wrong.append(f"the tone of second {second} is {distance:.3f} s off")
        if end - begin < 0.055:
            broken += 1
        elif abs(heard_hertz - hertz) > PITCH:
            wrong.append(f"second {second}: {heard_hertz:.0f} Hz for {hertz}")
    if broken > len(TONES) // 2:
        wrong.append(f"{broken} of {len(TONES)} tones are broken off before their pitch can be told")
    for earliest, latest in WORDS:
        loud = [(b - origin, e - origin) for b, e in found if earliest <= b - origin <= latest]
        if not loud:
            wrong.append(f"no words between {earliest} and {latest} s")
    stutters = 0
    talk = [(3.85, 11.0), (22.0, 26.0)]
    for begin, end in found:
        at = begin - origin
        known = begin in taken or any(a <= at <= b for a, b in talk)
        # The second and third pips of the tone of ten seconds, and the second note of a beat.
        known = known or any(-0.15 <= at - second < 0.5 for second, _ in TONES)
        if not known and any(0 <= at - second < STUTTER for second, _ in TONES):
            stutters += 1
        elif not known:
            wrong.append(f"something is heard at {at:.2f} s that is not due")
        if at > END:
            wrong.append(f"something is heard at {at:.2f} s, after the end")
    for sentence in wrong:
        print(sentence)
    print(f"{len(TONES)} tones, the farthest {worst * 1000:.0f} ms from its second beside the first; "
        f"{broken} tones and {stutters} pieces of tones broken by a stutter; {len(wrong)} faults")
    return 1 if wrong else 0


sys.exit(main())
