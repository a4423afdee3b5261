//! The built-in sessions in another language: the same ride in other words, and whatever is filled into them in theirs.

use std::collections::{BTreeMap, BTreeSet};

use stillroad::memory::Memory;
use stillroad::plan::edit::{Change, Edit, edit};
use stillroad::plan::fit::{Recoveries, Wish, fit};
use stillroad::plan::{self, CueField, CuePiece, Plan, TimedCue, speaking_time};
use stillroad::text::{Language, within};
use stillroad::time::Span;

use super::read;

/// Said in both: names of people and places.
const THE_SAME: [&str; 1] = ["The boathouse at Skarra Sound"];

/// Each session in English and in another language, with its stem.
fn pairs() -> Vec<(&'static str, &'static str, &'static str)> {
    let mut all = Vec::new();
    for language in Language::ALL.into_iter().skip(1) {
        let english = plan::builtin_in(Language::English).iter();
        for ((stem, english), (other, own)) in english.zip(plan::builtin_in(language)) {
            assert_eq!(stem, other);
            assert_eq!(read(own).language, language, "{stem}");
            assert_eq!(read(english).language, Language::English, "{stem}");
            all.push((*stem, *english, *own));
        }
    }
    all
}

#[test]
fn every_session_has_its_twin_and_every_file_is_offered() {
    let sessions = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sessions");
    for (language, folder) in [
        (Language::English, sessions.clone()),
        (Language::German, sessions.join("german")),
    ] {
        let offered = plan::builtin_in(language).iter();
        let offered: BTreeSet<String> = offered.map(|(stem, _)| format!("{stem}.toml")).collect();
        let files = std::fs::read_dir(&folder).unwrap();
        let files: BTreeSet<String> = files
            .map(|file| file.unwrap().file_name().into_string().unwrap())
            .filter(|name| name.ends_with(".toml"))
            .collect();
        assert_eq!(offered, files);
        assert_eq!(offered.len(), 14);
        assert_eq!(
            within(language, plan::builtin),
            plan::builtin_in(language),
            "who asks is answered in their language"
        );
    }
    assert_eq!(pairs().len(), 14 * (Language::ALL.len() - 1));
}

/// The session without its words.
fn without_words(plan: &Plan) -> Plan {
    let mut bare = plan.clone();
    bare.name.clear();
    bare.purpose.clear();
    bare.author.clear();
    bare.language = Language::default();
    bare.source = "".into();
    for block in &mut bare.blocks {
        block.name.clear();
        for cue in &mut block.cues {
            cue.text.clear();
            if let Some(speaker) = &mut cue.speaker {
                speaker.clear();
            }
        }
    }
    bare
}

#[test]
fn twins_ask_for_the_same_ride() {
    for (stem, english, own) in pairs() {
        let (english, own) = (read(english), read(own));
        assert_eq!(without_words(&english), without_words(&own), "{stem}");
        // Blocks and speakers of one name are of one name in the other too: the rows of a comparison hang on it.
        let mut names = BTreeMap::new();
        for (one, other) in english.blocks.iter().zip(&own.blocks) {
            let in_english = plan::block_in_english(&own.name, &other.name);
            assert_eq!(in_english, one.name, "{stem}");
            let cues = one.cues.iter().zip(&other.cues);
            let speakers = cues
                .filter_map(|(one, other)| Some((one.speaker.as_ref()?, other.speaker.as_ref()?)));
            for (one, other) in speakers.chain([(&one.name, &other.name)]) {
                let known = names.entry(one).or_insert(other);
                assert_eq!(*known, other, "{stem}");
            }
        }
        let others: BTreeSet<_> = names.values().collect();
        assert_eq!(others.len(), names.len(), "{stem}: {names:?}");
    }
}

#[test]
fn twins_fill_in_the_same_figures() {
    let fields = |text: &[CuePiece]| {
        let mut fields: Vec<CueField> = Vec::new();
        for piece in text {
            if let CuePiece::Field(field) = piece {
                fields.push(*field);
            }
        }
        fields.sort_by_key(|field| format!("{field:?}"));
        fields
    };
    for (stem, english, own) in pairs() {
        let (english, own) = (read(english), read(own));
        let cues = |plan: &Plan| {
            let cues = plan.blocks.iter().flat_map(|block| block.cues.clone());
            cues.map(|cue| cue.text).collect::<Vec<_>>()
        };
        for (one, other) in cues(&english).iter().zip(&cues(&own)) {
            let words = format!("{stem}: {}", plan::written(other));
            assert_eq!(fields(one), fields(other), "{words}");
        }
    }
}

#[test]
fn a_twin_has_no_problem_that_the_original_lacks() {
    for (stem, english, own) in pairs() {
        let known = plan::read(english).problems;
        for problem in plan::read(own).problems {
            let same = |one: &plan::Problem| one.what == problem.what;
            assert!(known.iter().any(same), "{stem}: {problem}");
        }
    }
}

/// Every cue as it is said where the session is ridden as it was written.
fn said(plan: &Plan) -> Vec<TimedCue> {
    plan.timing().into_iter().flat_map(|row| row.cues).collect()
}

#[test]
fn a_twin_takes_no_longer_to_say() {
    for (stem, english, own) in pairs() {
        for (one, other) in said(&read(english)).iter().zip(&said(&read(own))) {
            let (one, long) = (speaking_time(&one.says), speaking_time(&other.says));
            // By a fifth at most, or by a word where there are few.
            let most = (one.seconds() * 1.2).max(one.seconds() + 0.4);
            assert!(
                long.seconds() <= most + 1e-9,
                "{stem}: {long} {}",
                other.says
            );
        }
    }
}

#[test]
fn no_words_are_the_same_in_both() {
    for (stem, english, own) in pairs() {
        let (one, other) = (read(english), read(own));
        let words = |plan: &Plan, text: &str| {
            let mut words = vec![plan.name.clone(), plan.purpose.clone(), plan.author.clone()];
            words.extend(text.lines().take(1).map(str::to_owned));
            for block in &plan.blocks {
                words.push(block.name.clone());
                for cue in &block.cues {
                    words.push(plan::written(&cue.text));
                    words.extend(cue.speaker.clone());
                }
            }
            words
        };
        for (english, own) in words(&one, english).iter().zip(&words(&other, own)) {
            let may = THE_SAME.contains(&english.as_str());
            assert_eq!(english == own, may, "{stem}: {own}");
        }
    }
}

#[test]
fn what_is_filled_in_is_in_the_language_of_the_session_whoever_reads() {
    let mut filled = 0;
    for (stem, english, own) in pairs() {
        let (english, own) = (read(english), read(own));
        for plan in [&english, &own] {
            let read_in = |language| within(language, || said(plan));
            assert_eq!(read_in(Language::English), read_in(Language::German));
        }
        for cue in said(&own) {
            filled += usize::from(cue.says.contains("Minuten") || cue.says.contains("Sekunden"));
            let says = format!(
                " {} ",
                cue.says.replace(|c: char| !c.is_alphanumeric(), " ")
            );
            for english in [
                "minute", "minutes", "second", "seconds", "hour", "hours", "effort", "to", "end",
            ] {
                assert!(!says.contains(&format!(" {english} ")), "{stem}: {says}");
            }
        }
    }
    assert!(filled > 50, "{filled}");
    let (_, _, own) = pairs()[0];
    let says = |cue: TimedCue| cue.says;
    let first: Vec<String> = said(&read(own)).into_iter().map(says).collect();
    let told = "Hier noch 20 Sekunden, dann 1 Minute 30 Sekunden bei Anstrengung 5,5. Die Last kommt sanft.";
    assert!(first.contains(&told.to_owned()), "{first:?}");
}

const BRIEF: &str = "format = 1\nname = \"Kurz\"\npurpose = \"p\"\n[[block]]\nkind = \"warm-up\"\ntime = \"8:00\"\neffort = 3\n\
                     [[block]]\nkind = \"cool-down\"\ntime = \"5:00\"\neffort = 2\n";

#[test]
fn a_language_that_is_not_spoken_is_an_error_that_names_those_that_are() {
    for language in Language::ALL {
        let key = format!("format = 1\nlanguage = \"{}\"", language.code());
        assert_eq!(read(&BRIEF.replace("format = 1", &key)).language, language);
    }
    assert_eq!(read(BRIEF).language, Language::English);
    let reading = plan::read(&BRIEF.replace("format = 1", "format = 1\nlanguage = \"fr\""));
    assert_eq!(reading.plan, None);
    let [problem] = &reading.problems[..] else {
        panic!("{:?}", reading.problems);
    };
    assert_eq!((problem.line, problem.severity), (2, plan::Severity::Error));
    for code in Language::ALL.map(Language::code) {
        assert!(problem.instead.contains(code), "{problem}");
    }
}

#[test]
fn a_session_that_is_fitted_or_edited_keeps_its_language() {
    let german = plan::builtin_in(Language::German).iter();
    let (_, text) = german
        .clone()
        .find(|(stem, _)| *stem == "steady-repeats")
        .unwrap();
    let written = read(text);
    let wish = Wish {
        recoveries: Recoveries::Easier,
        minutes: Some(40),
        warm_up: 0,
    };
    let fitted = fit(&written, &wish).unwrap().plan;
    assert_eq!(fitted.language, Language::German);
    assert_eq!(fitted.name, written.name);
    assert_eq!(read(&fitted.source).language, Language::German);
    let change = Change {
        place: vec![3, 1],
        edit: Edit::Length(Span::from_seconds(200)),
        comment: String::new(),
    };
    let edited = edit(&written, "Viermal", "", &[change]).unwrap();
    assert_eq!(edited.plan.language, Language::German);
    assert_eq!(read(&edited.plan.source).language, Language::German);
}

/// A rider who reads another language from one ride to the next has ridden the same session.
#[test]
fn what_is_remembered_of_a_session_is_remembered_of_its_twin() {
    for (stem, english, own) in pairs() {
        let (one, other) = (read(english), read(own));
        assert!(plan::is_builtin(stem, english) && plan::is_builtin(stem, own));
        assert!(!plan::is_builtin("another", own) && !plan::is_builtin(stem, BRIEF));
        assert_eq!(plan::name_in_english(&other.name), one.name);
        assert_eq!(plan::name_in_english(&one.name), one.name);
        let mut memory = Memory::default();
        memory.ridden_with(&other.name, Recoveries::Easier);
        assert_eq!(memory.last_recoveries(&one.name), Recoveries::Easier);
        assert_eq!(memory.last_recoveries(&other.name), Recoveries::Easier);
        memory.ridden_with(&one.name, Recoveries::Full);
        assert_eq!(memory.last_recoveries(&other.name), Recoveries::Full);
        assert_eq!(memory.eased, []);
    }
    assert_eq!(plan::name_in_english("My own"), "My own");
    assert_eq!(plan::block_in_english("My own", "Böe"), "Böe");
}
