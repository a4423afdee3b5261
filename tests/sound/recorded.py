"""What a microphone is to hear, and what became of it: for tests/sound/recorded.

Usage: recorded.py voice (writes the sound), recorded.py file WAV, recorded.py ride RAW. Exit status: 0 where all is right.
"""

import sys
import wave

import numpy as np

RATE = 22_050
PITCH = 500.0
LENGTH = 1.5
DUE = 4.0  # the first cue of session.toml, seconds after the first tone
LATE = 0.5  # what the rule allows


def pitch(samples):
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 1 << 16))
    return np.argmax(spectrum) * RATE / (1 << 16)


def voice():
    time = np.arange(int(LENGTH * RATE)) / RATE
    tone = 0.2 * 32_767 * np.sin(2 * np.pi * PITCH * time)
    silence = np.zeros(RATE)
    sys.stdout.buffer.write(np.concatenate([silence, tone, silence]).astype("<i2").tobytes())
    return []


def file(path):
    with wave.open(path) as read:
        form = (read.getnchannels(), read.getsampwidth(), read.getframerate())
        samples = np.frombuffer(read.readframes(read.getnframes()), "<i2").astype(float)
    wrong = []
    if form != (1, 2, RATE):
        wrong.append(f"the form is {form}")
    length = len(samples) / RATE
    # A twentieth of a second is left on each side, in pieces of a hundredth.
    if not LENGTH <= length <= LENGTH + 0.2:
        wrong.append(f"it lasts {length:.2f} s, where {LENGTH} s were said")
    if abs(pitch(samples) - PITCH) > 3:
        wrong.append(f"it has {pitch(samples):.0f} Hz")
    loudest = np.abs(samples).max() / 32_767
    if not 0.66 <= loudest <= 0.72:
        wrong.append(f"its loudest is {loudest:.2f} of full scale")
    print(f"the file: {length:.2f} s, {pitch(samples):.0f} Hz, {loudest:.2f} of full scale")
    return wrong


def ride(path):
    samples = np.fromfile(path, dtype="<i2").astype(float)
    frame = RATE // 50
    frames = samples[: len(samples) // frame * frame].reshape(-1, frame)
    loud = np.flatnonzero(np.abs(frames).max(axis=1) > 300)
    if not len(loud):
        return ["nothing was heard"]
    origin = loud[0] / 50

    def of_the_cue(piece):
        spectrum = np.abs(np.fft.rfft(piece * np.hanning(frame), 4096))
        return abs(np.argmax(spectrum) * RATE / 4096 - PITCH) < 25

    cue = [at for at in loud if of_the_cue(frames[at])]
    if not cue:
        return ["the recording was not heard"]
    begins, lasts = cue[0] / 50 - origin, (cue[-1] - cue[0] + 1) / 50
    print(f"the ride: heard {begins:.2f} s after the first tone, for {lasts:.2f} s")
    wrong = []
    if not DUE - 0.1 <= begins <= DUE + LATE:
        wrong.append(f"it is due at {DUE} s")
    if not LENGTH - 0.2 <= lasts <= LENGTH + 0.6:
        wrong.append(f"{LENGTH} s were recorded")
    return wrong


faults = {"voice": voice, "file": file, "ride": ride}[sys.argv[1]](*sys.argv[2:])
for fault in faults:
    print(fault, file=sys.stderr)
sys.exit(1 if faults else 0)
