//! All words of the program are in one place, in both languages: what the sources say is held against the German files.

mod exceptions;
mod planted;
mod recognised;
mod sources;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use stillroad::text::{Entry, Language, entries};

use exceptions::{EXCEPTIONS, Exception, THE_SAME};
use sources::{Said, figures, has_words, reads_like_words, said};

/// Made of what clap holds; a test beside it walks the help itself.
const HELP: &str = "help.toml";

/// Where the macros themselves stand, with their examples.
const SEAM: &str = "src/text/";

fn source_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            source_files(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

/// Every source file but the seam's own, and what it says.
fn everything_said() -> Vec<(String, Said)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    source_files(&root.join("src"), &mut files);
    files.sort();
    files
        .into_iter()
        .map(|path| {
            let name = path
                .strip_prefix(root)
                .unwrap()
                .to_string_lossy()
                .replace('\\', "/");
            (name, path)
        })
        .filter(|(name, _)| !name.starts_with(SEAM) && !name.ends_with("/tests.rs"))
        .map(|(name, path)| (name, said(&std::fs::read_to_string(path).unwrap())))
        .collect()
}

fn excepts(exception: &Exception, file: &str, text: &str) -> bool {
    file.starts_with(exception.file)
        && (exception.only.is_empty() || exception.only.iter().any(|only| text.starts_with(only)))
}

/// What is wrong between the sources and the entries.
fn faults(sources: &[(String, Said)], entries: &[Entry]) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut german: BTreeMap<&str, &Entry> = BTreeMap::new();
    for entry in entries {
        let Entry { file, english, own } = entry;
        if let Some(other) = german.insert(english, entry) {
            wrong.push(format!("{file}: {english:?} is in {} as well", other.file));
        }
        if figures(english) != figures(own) {
            wrong.push(format!(
                "{file}: {english:?} has other figures than {own:?}"
            ));
        }
        if own.trim().is_empty() {
            wrong.push(format!("{file}: {english:?} has no words"));
        }
        if own == english && reads_like_words(english) && !THE_SAME.contains(english) {
            wrong.push(format!("{file}: {english:?} is the same in German"));
        }
    }
    let mut used = BTreeSet::new();
    for (file, said) in sources {
        for marked in &said.marked {
            let (line, key, names) = (marked.line, marked.key.as_str(), figures(&marked.key));
            used.insert(key.to_owned());
            // An error that only passes another one on has no words of its own.
            let own_words = marked.by != "error" || has_words(key);
            if own_words && !german.contains_key(key) {
                wrong.push(format!("{file}:{line}: {key:?} has no German"));
            }
            let right = match marked.by.as_str() {
                "say" => names == marked.listed,
                "kept" => !names.contains(""),
                "error" => true,
                _ => names.is_empty(),
            };
            if !right {
                wrong.push(format!(
                    "{file}:{line}: {key:?} does not list its figures by name"
                ));
            }
            if marked.by != "error" && key.contains(":?}") {
                wrong.push(format!(
                    "{file}:{line}: {key:?} shows a figure as the program holds it"
                ));
            }
        }
        for (line, text) in said.bare.iter().filter(|(_, text)| reads_like_words(text)) {
            if !EXCEPTIONS
                .iter()
                .any(|exception| excepts(exception, file, text))
            {
                wrong.push(format!(
                    "{file}:{line}: {text:?} is marked by no macro of words"
                ));
            }
        }
    }
    for entry in entries {
        if entry.file != HELP && !used.contains(entry.english) {
            wrong.push(format!("{}: nobody says {:?}", entry.file, entry.english));
        }
    }
    wrong
}

#[test]
fn every_word_of_the_sources_is_in_both_languages() {
    let entries = entries(Language::German).unwrap();
    let wrong = faults(&everything_said(), &entries);
    assert!(
        wrong.is_empty(),
        "{} faults:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

/// An exception that nothing needs any more is none.
#[test]
fn every_exception_is_needed() {
    let sources = everything_said();
    for exception in EXCEPTIONS {
        let Exception { file, only, why } = exception;
        let there: BTreeSet<&str> = sources
            .iter()
            .flat_map(|(file, said)| said.bare.iter().map(move |(_, text)| (file, text)))
            .filter(|(file, text)| reads_like_words(text) && excepts(exception, file, text))
            .map(|(_, text)| text.as_str())
            .collect();
        assert!(!there.is_empty(), "{file}: {why}");
        for words in *only {
            let found = there.iter().any(|text| text.starts_with(words));
            assert!(found, "{file}: {words:?}: {why}");
        }
    }
    let entries = entries(Language::German).unwrap();
    for same in THE_SAME {
        assert!(
            entries
                .iter()
                .any(|entry| entry.english == *same && entry.own == *same),
            "{same}"
        );
    }
}
