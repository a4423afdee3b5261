//! What may be written next: keys of the table, words of a key, fields of a cue, headings, each with what it means.

use std::ops::Range;

use super::here::{DEEPEST, Here, here, key_of};
use crate::plan::FIELD_DOCS;
use crate::plan::fields::{BLOCK, CUE, FIELDS, INNER_SET, SESSION, SET, TARGETS};
use crate::toml_table::{Field, Place, Sort, fields_at};

/// One way to go on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Candidate {
    /// As it is shown.
    pub shown: String,
    /// What goes into the text.
    pub insert: String,
    /// The bytes of it that are chosen afterwards, so that typing replaces them; empty at its end for none.
    pub select: Range<usize>,
    /// What it means, in a sentence.
    pub doc: &'static str,
}

/// What may stand at a place of the text.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Completion {
    /// The bytes that a candidate takes the place of.
    pub replace: Range<usize>,
    /// The candidates, the most likely first.
    pub candidates: Vec<Candidate>,
    /// Whether something was begun that they complete.
    pub begun: bool,
}

/// What may stand where the cursor, a byte of the text, is.
pub fn candidates(text: &str, at: usize) -> Completion {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    let place = here(text, at);
    let before = &text[place.line.start..at];
    let behind = &text[at..place.line.end];
    let indent = before.len() - before.trim_start().len();
    let begun = &before[indent..];
    let from = place.line.start + indent;
    if begun.starts_with('#') {
        return Completion::default();
    }
    if begun.starts_with('[') {
        // What is left of a heading behind the cursor goes with it.
        let brackets = behind.len() - behind.trim_start_matches(']').len();
        return Completion {
            replace: from..at + brackets,
            candidates: headings(&place, begun),
            begun: true,
        };
    }
    match before.split_once('=') {
        None if behind.trim().is_empty() => {
            let mut candidates = keys(&place, begun);
            if begun.is_empty() {
                candidates.extend(headings(&place, ""));
            }
            Completion {
                replace: from..at,
                candidates,
                begun: !begun.is_empty(),
            }
        }
        None => Completion::default(),
        Some((_, value)) => values(&place, before, value, behind, at),
    }
}

/// What the key of a byte's line means, in a sentence; nothing where the line has none that is known there.
pub fn about(text: &str, at: usize) -> Option<&'static str> {
    let place = here(text, at);
    let key = key_of(&text[place.line.clone()])?;
    places(&place)
        .into_iter()
        .flat_map(|at| fields_at(FIELDS, at))
        .find(|field| field.key == key)
        .map(|field| field.doc)
}

/// The places whose keys may stand here: a block that has neither may still become a set.
fn places(place: &Here) -> Vec<Place> {
    match (place.place, place.depth) {
        (BLOCK, 1) => vec![BLOCK, SET],
        (BLOCK, 2) => vec![BLOCK, INNER_SET],
        (only, _) => vec![only],
    }
}

/// The fields that may stand here as keys, those that must be given first.
fn fields(place: &Here) -> Vec<&'static Field> {
    let mut fields: Vec<&'static Field> = Vec::new();
    for at in places(place) {
        for field in fields_at(FIELDS, at) {
            let tables = matches!(field.sort, Sort::Tables(_));
            // A block that has a kind or a time is no set.
            let set_key = at != place.place && !place.written.is_empty();
            if !tables && !set_key && !fields.iter().any(|known| known.key == field.key) {
                fields.push(field);
            }
        }
    }
    fields
}

fn keys(place: &Here, begun: &str) -> Vec<Candidate> {
    let has = |key: &str| place.written.iter().any(|written| written == key);
    let targeted = TARGETS.iter().any(|key| has(key));
    let placed = has("at") || has("before_end");
    let left_out = |key: &str| {
        has(key)
            || (targeted && TARGETS.contains(&key))
            || (placed && place.place == CUE && matches!(key, "at" | "before_end"))
    };
    let begun = begun.trim_end().to_lowercase();
    let mut found: Vec<&Field> = fields(place)
        .into_iter()
        .filter(|field| field.key.starts_with(&begun) && !left_out(field.key))
        .collect();
    // What must be given comes first, and then what a block asks for: one of them must be given too.
    let rank = |field: &&Field| match field.required && field.key != "repeat" {
        true => 0,
        false if TARGETS[..1].contains(&field.key) => 1,
        false => 2,
    };
    found.sort_by_key(rank);
    found
        .into_iter()
        .map(|field| {
            let insert = format!("{} = {}", field.key, field.example);
            let value = field.key.len() + 3;
            // Of a text in quotes what stands between them, so that the quotes stay.
            let select = match field
                .example
                .strip_prefix('"')
                .and_then(|x| x.strip_suffix('"'))
            {
                Some(inner) => value + 1..value + 1 + inner.len(),
                None => value..insert.len(),
            };
            Candidate {
                shown: field.key.to_owned(),
                insert,
                select,
                doc: field.doc,
            }
        })
        .collect()
}

fn headings(place: &Here, begun: &str) -> Vec<Candidate> {
    let block = |depth: usize| vec!["block"; depth].join(".");
    let doc = |place: Place, key: &str| {
        fields_at(FIELDS, place)
            .find(|field| field.key == key)
            .map_or("", |field| field.doc)
    };
    let mut all = Vec::new();
    let set = match place.depth {
        1 => SET,
        _ => INNER_SET,
    };
    let may_be_set = matches!(place.place, SET | INNER_SET);
    if may_be_set {
        all.push((block((place.depth + 1).min(DEEPEST)), doc(set, "block")));
    }
    // One more beside this one, what is said in it, and one beside each that it stands in.
    for depth in (1..=place.depth.max(1)).rev() {
        let around = match depth {
            1 => SESSION,
            2 => SET,
            _ => INNER_SET,
        };
        all.push((block(depth), doc(around, "block")));
        if depth == place.depth && !may_be_set {
            all.push((format!("{}.cue", block(depth)), doc(BLOCK, "cue")));
        }
    }
    all.dedup();
    all.into_iter()
        .map(|(names, doc)| (format!("[[{names}]]"), doc))
        .filter(|(heading, _)| heading.starts_with(begun))
        .map(|(heading, doc)| {
            let insert = format!("{heading}\n");
            Candidate {
                shown: heading,
                select: insert.len()..insert.len(),
                insert,
                doc,
            }
        })
        .collect()
}

/// What may stand behind the equals sign.
fn values(place: &Here, before: &str, value: &str, behind: &str, at: usize) -> Completion {
    let key = key_of(before).unwrap_or_default();
    let known = places(place)
        .into_iter()
        .flat_map(|at| fields_at(FIELDS, at))
        .find(|field| field.key == key);
    let Some(field) = known else {
        return Completion::default();
    };
    let value = value.trim_start();
    if key == "say" {
        return cue_fields(value, behind, at);
    }
    let words: Vec<String> = match field.sort {
        Sort::Word(words) => words.iter().map(|word| format!("\"{word}\"")).collect(),
        Sort::ClockOr(_, word) => vec![field.example.to_owned(), format!("\"{word}\"")],
        Sort::Flag => vec!["true".to_owned(), "false".to_owned()],
        _ if value.is_empty() => vec![field.example.to_owned()],
        _ => Vec::new(),
    };
    let plain = |word: &str| word.trim_matches('"').to_lowercase();
    let begun = plain(value.trim_end());
    // The rest of the word behind the cursor, with its quote, goes with it.
    let rest: usize = behind
        .chars()
        .take_while(|letter| letter.is_alphanumeric() || matches!(letter, '-' | '"'))
        .map(char::len_utf8)
        .sum();
    Completion {
        replace: at - value.len()..at + rest,
        candidates: words
            .into_iter()
            .filter(|word| plain(word).starts_with(&begun) && plain(word) != begun)
            .map(|word| Candidate {
                shown: word.clone(),
                select: word.len()..word.len(),
                insert: word,
                doc: field.doc,
            })
            .collect(),
        begun: !begun.is_empty(),
    }
}

/// The fields that may stand in what a cue says, once a brace was opened.
fn cue_fields(value: &str, behind: &str, at: usize) -> Completion {
    let Some(open) = value
        .rfind('{')
        .filter(|&open| !value[open..].contains('}'))
    else {
        return Completion::default();
    };
    let begun = &value[open + 1..];
    let closed = usize::from(behind.starts_with('}'));
    Completion {
        replace: at - begun.len() - 1..at + closed,
        candidates: FIELD_DOCS
            .iter()
            .filter(|(name, _)| name.starts_with(begun))
            .map(|&(name, doc)| {
                let insert = format!("{{{name}}}");
                Candidate {
                    shown: insert.clone(),
                    select: insert.len()..insert.len(),
                    insert,
                    doc,
                }
            })
            .collect(),
        begun: true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan;

    fn shown(text: &str) -> Vec<String> {
        let at = text.find('|').unwrap_or(text.len());
        let text = text.replace('|', "");
        let found = candidates(&text, at).candidates;
        found.into_iter().map(|candidate| candidate.shown).collect()
    }

    #[test]
    fn keys_of_the_table_come_the_needed_ones_first_and_none_twice() {
        assert_eq!(shown("|")[..3], ["format", "name", "purpose"]);
        assert_eq!(shown("format = 1\nn|"), ["name"]);
        assert_eq!(shown("[[block]]\n|\n")[..3], ["kind", "time", "effort"]);
        assert_eq!(shown("[[block]]\nki|"), ["kind"]);
        let offered = shown("[[block]]\nkind = \"hold\"\nwatts = 150\n|\n[[block]]\n");
        for left_out in ["kind", "effort", "watts", "slope", "repeat"] {
            assert!(!offered.contains(&left_out.to_owned()), "{left_out}");
        }
        assert!(offered.contains(&"cadence".to_owned()));
        assert!(shown("[[block]]\n|").contains(&"repeat".to_owned()));
        assert_eq!(
            shown("[[block]]\n[[block.cue]]\nat = \"0:10\"\n|")[..2],
            ["kind", "say"]
        );
        assert!(shown("# ki|").is_empty() && shown("kind = \"hold\" x|").is_empty());
    }

    #[test]
    fn words_headings_and_cue_fields_are_completed() {
        assert_eq!(shown("[[block]]\nkind = \"wa|"), ["\"warm-up\""]);
        assert_eq!(shown("[[block]]\nposition = |").len(), 4);
        assert_eq!(shown("[[block]]\ncut = t|"), ["true"]);
        assert_eq!(shown("[[block]]\n[|"), ["[[block]]", "[[block.cue]]"]);
        assert_eq!(
            shown("[[block]]\nrepeat = 3\n[[b|"),
            ["[[block.block]]", "[[block]]"]
        );
        assert_eq!(
            shown("[[block]]\n[[block.cue]]\nsay = \"Then {next.|"),
            ["{next.effort}", "{next.time}"]
        );
    }

    /// Every example that completion puts in must be one that the reader takes: each is put into a whole session.
    #[test]
    fn what_is_put_in_is_right_for_the_reader() {
        let session = "format = 1\nname = \"a\"\npurpose = \"b\"\n[[block]]\nkind = \"sprint\"\ntime = \"1:00\"\neffort = 10\n";
        let needed = ["format", "name", "purpose", "kind", "time", "effort"];
        let at = session.len();
        let keys = candidates(session, at).candidates;
        assert!(keys.len() > 5);
        for candidate in keys {
            if candidate.shown.starts_with('[') || needed.contains(&candidate.shown.as_str()) {
                continue;
            }
            let whole = format!("{session}{}\n", candidate.insert);
            let reading = plan::read(&whole);
            assert!(reading.plan.is_some(), "{whole}{:?}", reading.problems);
            assert!(candidate.select.end <= candidate.insert.len());
        }
    }

    #[test]
    fn any_place_of_any_text_has_an_answer() {
        for text in [
            "é = \"{",
            "[[blöck",
            "\"=\"=\"",
            "say = \"{é",
            "[[block.cue]]\nsay = \"ä{n",
        ] {
            for at in 0..=text.len() + 1 {
                let found = candidates(text, at);
                assert!(
                    text.get(found.replace.clone()).is_some(),
                    "{text:?} at {at}"
                );
            }
        }
    }
}
