//! The system's voice: words to samples, by a program of its own that is given the words on its standard input, where
//! nothing in them can be taken for an option.

use std::borrow::Cow;
use std::collections::VecDeque;
use std::io::{Read, Write};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::tone::RATE;
use crate::text::{self, Language};

/// The programs that are tried, in this order; both write a WAV file of [`RATE`] to standard output.
const PROGRAMS: [&str; 2] = ["espeak-ng", "espeak"];

/// Said where there is none.
pub const NO_VOICE: &str = entry!(
    "There is no voice on this computer, so cues are shown and not spoken; tones sound all the same. Install espeak-ng to hear \
     them."
);

/// What a unit is called in German where it stands behind a figure: a voice would spell its letters.
const GERMAN_UNITS: [(&str, &str); 9] = [
    ("W", "Watt"),
    ("kJ", "Kilojoule"),
    ("Nm", "Newtonmeter"),
    ("rpm", "Umdrehungen pro Minute"),
    ("bpm", "Schläge pro Minute"),
    ("km/h", "Kilometer pro Stunde"),
    ("h", "Stunden"),
    ("min", "Minuten"),
    ("s", "Sekunden"),
];

/// Words that wait to be made into samples. Full where the voice hangs: then they are asked for again, or are too late.
const ASKED: usize = 8;

/// Clips that are kept; the oldest goes. A session says the same words rarely twice.
const KEPT: usize = 16;

/// A clip is no longer than this, about 2.6 MB; what comes after is not read.
const LONGEST: usize = RATE as usize * 60;

/// So many characters of a cue are spoken.
const MOST_CHARACTERS: usize = 1_000;

/// A voice that has not said its words after this is ended. It takes a twentieth of a second otherwise.
const PATIENCE: Duration = Duration::from_secs(4);

/// A program that does not say its version after so many looks, a fiftieth of a second apart, is no voice. It takes one or
/// two otherwise.
const LOOKS: u32 = 50;
const BETWEEN_LOOKS: Duration = Duration::from_millis(20);

/// How long a WAV file's head is, as these programs write it.
const HEAD: usize = 44;

/// Words, and the language in which they are said: the same words sound otherwise in another.
type Words = (Arc<str>, Language);

/// What became of words: samples, or nothing where they could not be said.
type Said = (Words, Option<Arc<[i16]>>);

/// The program that says words now, and whether another may still be started.
#[derive(Debug, Default)]
struct Running {
    child: Option<Child>,
    over: bool,
}

type Saying = Arc<Mutex<Running>>;

fn held(saying: &Saying) -> MutexGuard<'_, Running> {
    saying.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Over or not, nobody waits for it any more; its entry in the system's table goes with `wait`.
fn end(child: Option<Child>) {
    if let Some(mut child) = child {
        drop(child.kill());
        drop(child.wait());
    }
}

/// A voice with a thread of its own. Dropping it ends the words that it has begun, and the thread with them.
#[derive(Debug)]
pub struct Voice {
    ask: SyncSender<Words>,
    said: Receiver<Said>,
    saying: Saying,
    kept: VecDeque<Said>,
    /// What was asked for and has not come back; at most [`ASKED`] and one.
    asked: Vec<Words>,
}

impl Voice {
    /// The system's voice; nothing where there is none.
    pub fn find() -> Option<Self> {
        PROGRAMS
            .into_iter()
            .find(|program| is_there(program))
            .and_then(Self::with)
    }

    /// A voice by this program.
    fn with(program: &'static str) -> Option<Self> {
        let (ask, asked): (_, Receiver<Words>) = sync_channel(ASKED);
        // As many answers as questions can wait.
        let (say, said) = sync_channel(ASKED + 1);
        let saying = Saying::default();
        let its_saying = Arc::clone(&saying);
        std::thread::Builder::new()
            .name("voice".to_owned())
            .spawn(move || {
                while let Ok((text, language)) = asked.recv() {
                    let clip = speak(program, &text, language, &its_saying);
                    if say.send(((text, language), clip)).is_err() {
                        return;
                    }
                }
            })
            .ok()?;
        Some(Self {
            ask,
            said,
            saying,
            kept: VecDeque::new(),
            asked: Vec::new(),
        })
    }

    /// Has words made ready in the language of this thread. Returns at once.
    pub fn prepare(&mut self, text: &Arc<str>) {
        self.take_in();
        let words = (text.clone(), text::language());
        let known = self.kept.iter().any(|(kept, _)| *kept == words);
        if known || self.asked.contains(&words) {
            return;
        }
        if self.ask.try_send(words.clone()).is_ok() {
            self.asked.push(words);
        }
    }

    /// Words as samples in the language of this thread, where they are ready.
    pub fn clip(&mut self, text: &str) -> Option<Arc<[i16]>> {
        self.take_in();
        let language = text::language();
        let is_it = |(kept, of): &Words| **kept == *text && *of == language;
        let (_, clip) = self.kept.iter().find(|(kept, _)| is_it(kept))?;
        clip.clone()
    }

    fn take_in(&mut self) {
        while let Ok(said) = self.said.try_recv() {
            self.asked.retain(|asked| *asked != said.0);
            if self.kept.len() == KEPT {
                self.kept.pop_front();
            }
            self.kept.push_back(said);
        }
    }
}

impl Drop for Voice {
    fn drop(&mut self) {
        let mut running = held(&self.saying);
        running.over = true;
        end(running.child.take());
    }
}

/// Whether a program can be started here, and answers.
fn is_there(program: &str) -> bool {
    let child = quiet(program)
        .arg("--version")
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .spawn();
    let Ok(mut child) = child else {
        return false;
    };
    for _ in 0..LOOKS {
        match child.try_wait() {
            Ok(None) => std::thread::sleep(BETWEEN_LOOKS),
            Ok(Some(status)) => return status.success(),
            Err(_) => break,
        }
    }
    end(Some(child));
    false
}

fn quiet(program: &str) -> Command {
    let mut command = Command::new(program);
    command.stderr(Stdio::null());
    command
}

/// What the program is asked: whose language it speaks, by the code that both programs know, and how fast, in words a
/// minute.
const fn options(language: Language) -> [&'static str; 6] {
    let voice = match language {
        Language::English => "en",
        Language::German => "de",
    };
    ["--stdin", "--stdout", "-v", voice, "-s", "165"]
}

/// Says words to the program and gives the samples. Waits for [`PATIENCE`] at most.
fn speak(program: &str, text: &str, language: Language, saying: &Saying) -> Option<Arc<[i16]>> {
    let pipes = {
        let mut running = held(saying);
        if running.over {
            return None;
        }
        let mut child = quiet(program)
            .args(options(language))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .ok()?;
        let pipes = child.stdin.take().zip(child.stdout.take());
        running.child = Some(child);
        pipes
    };
    let samples = pipes.and_then(|(words, out)| converse(words, out, &aloud(text, language)));
    let child = held(saying).child.take();
    end(child);
    samples
}

fn converse(mut words: ChildStdin, out: ChildStdout, text: &str) -> Option<Arc<[i16]>> {
    let (done, finished) = sync_channel(1);
    std::thread::Builder::new()
        .name("voice's words".to_owned())
        .spawn(move || {
            let mut bytes = Vec::new();
            let most = (HEAD + 2 * LONGEST) as u64;
            let read = out.take(most).read_to_end(&mut bytes);
            drop(done.send(read.map(|_| bytes)));
        })
        .ok()?;
    // A thousand characters fit into the pipe, so this does not wait.
    words.write_all(plain(text).as_bytes()).ok()?;
    drop(words);
    // Where time is up the child is killed after this, and with its output the thread ends.
    let bytes = finished.recv_timeout(PATIENCE).ok()?.ok()?;
    let samples = from_wav(&bytes);
    (!samples.is_empty()).then(|| samples.into())
}

/// What there is one of in German is feminine, and a voice would count it as "eins".
const GERMAN_ONE: [&str; 3] = ["Minute", "Sekunde", "Stunde"];

/// The words as a voice should read them: in German with the names of units behind figures.
fn aloud(text: &str, language: Language) -> Cow<'_, str> {
    if language != Language::German {
        return Cow::Borrowed(text);
    }
    let mut figure = false;
    let bare_of = |word: &'_ str| word.trim_end_matches(['.', ',', ';', ':', '!', '?']).len();
    let after = text.split(' ').skip(1).map(Some).chain([None]);
    let words: Vec<Cow<'_, str>> = text
        .split(' ')
        .zip(after)
        .map(|(word, next)| {
            let bare = &word[..bare_of(word)];
            if word == "1" && next.is_some_and(|next| GERMAN_ONE.contains(&&next[..bare_of(next)]))
            {
                return Cow::Borrowed("eine");
            }
            let unit = GERMAN_UNITS
                .iter()
                .find(|(unit, _)| figure && *unit == bare);
            figure = word.ends_with(|letter: char| letter.is_ascii_digit());
            unit.map_or(Cow::Borrowed(word), |(_, name)| {
                Cow::Owned(format!("{name}{}", &word[bare.len()..]))
            })
        })
        .collect();
    Cow::Owned(words.join(" "))
}

/// The words without what a voice could take for an instruction: control characters, and markup.
fn plain(text: &str) -> String {
    text.chars()
        .map(|letter| {
            if letter.is_control() || matches!(letter, '<' | '>' | '[' | ']') {
                ' '
            } else {
                letter
            }
        })
        .take(MOST_CHARACTERS)
        .collect()
}

/// The samples of a WAV file with one channel of 16 bits. The lengths in its head are not true where it was written to a
/// pipe, so that only the head's own length is believed.
fn from_wav(bytes: &[u8]) -> Vec<i16> {
    bytes
        .get(HEAD..)
        .unwrap_or(&[])
        .as_chunks::<2>()
        .0
        .iter()
        .map(|&pair| i16::from_le_bytes(pair))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_never_markup_or_control_characters() {
        assert_eq!(
            plain("Ease\u{7}. <break time='9s'/> [[x]]\n-v de"),
            "Ease .  break time='9s'/    x   -v de"
        );
        assert_eq!(plain(&"a".repeat(5_000)).len(), MOST_CHARACTERS);
    }

    #[test]
    fn each_language_has_its_own_voice_and_its_own_clips() {
        for (language, voice) in [(Language::English, "en"), (Language::German, "de")] {
            assert_eq!(options(language)[2..4], ["-v", voice]);
        }
        // `echo` gives too little for a sound, and that is kept for each language by itself.
        let Some(mut echo) = Voice::with("echo") else {
            return;
        };
        let words: Arc<str> = Arc::from("Hold.");
        let have_said = |echo: &mut Voice, language| {
            text::within(language, || echo.prepare(&words));
            for _ in 0..500 {
                echo.take_in();
                if echo.asked.is_empty() {
                    return;
                }
                std::thread::sleep(Duration::from_millis(10));
            }
        };
        have_said(&mut echo, Language::English);
        have_said(&mut echo, Language::German);
        have_said(&mut echo, Language::English);
        let of: Vec<Language> = echo
            .kept
            .iter()
            .map(|((_, language), _)| *language)
            .collect();
        assert_eq!(of, [Language::English, Language::German]);
    }

    #[test]
    fn units_are_named_in_german_where_a_figure_stands_before_them() {
        let said = "Noch 250 W, 90 rpm. W bei 7,5 kJ; in 20 s";
        assert_eq!(
            aloud(said, Language::German),
            "Noch 250 Watt, 90 Umdrehungen pro Minute. W bei 7,5 Kilojoule; in 20 Sekunden"
        );
        assert_eq!(aloud(said, Language::English), said);
        assert_eq!(
            aloud(
                "Noch 1 Minute. Noch 1 Stunde, nicht 11 Minuten, Block 1 von 4.",
                Language::German
            ),
            "Noch eine Minute. Noch eine Stunde, nicht 11 Minuten, Block 1 von 4."
        );
    }

    #[test]
    fn a_file_that_is_cut_short_has_fewer_samples_and_no_more() {
        let mut wav = vec![0; HEAD];
        wav.extend([1, 0, 255, 255, 7]);
        assert_eq!(from_wav(&wav), [1, -1]);
        assert_eq!(from_wav(&wav[..20]), [] as [i16; 0]);
    }

    #[test]
    fn a_program_that_is_not_there_is_no_voice_and_one_that_fails_says_nothing() {
        assert!(!is_there("stillroad-has-no-such-voice"));
        let saying = Saying::default();
        let hello = |program| speak(program, "Hello", Language::English, &saying);
        assert_eq!(hello("stillroad-has-no-such-voice"), None);
        // `false` takes no words and writes no samples.
        assert_eq!(hello("false"), None);
        // Once the voice is dropped nothing is started any more, and what was begun is ended.
        held(&saying).over = true;
        assert_eq!(hello("echo"), None);
        assert!(held(&saying).child.is_none());
    }
}
