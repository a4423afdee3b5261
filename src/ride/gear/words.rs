//! What is said of a gear that is recalled: whole sentences, so that each is recognised where it is drawn.

use crate::plan::Kind;

/// How the gear that is recalled lies to the one that is ridden.
#[derive(Clone, Copy, Debug)]
pub(super) enum Told {
    /// Only which one it is.
    Which,
    /// It is ridden now.
    This,
    /// It is harder or easier, by so many shifts where they were counted.
    Shift { harder: bool, shifts: Option<u32> },
}

/// Of the gear for the block that is ridden.
pub(super) fn now(told: Told, noted: bool, kind: Kind) -> String {
    let what = what(noted, kind);
    match told {
        Told::Which => match (noted, kind) {
            (true, _) => entry!("The gear you noted."),
            (false, Kind::Hold) => entry!("The last hold's gear."),
            (false, Kind::Sprint) => entry!("The last sprint's gear."),
            (false, Kind::Recovery) => entry!("The last recovery's gear."),
            (false, _) => entry!("The gear of the last one."),
        }
        .to_owned(),
        Told::This => kept!("This is {what}."),
        Told::Shift { harder, shifts } => match (shifts, harder) {
            (None, true) => kept!("Harder for {what}."),
            (None, false) => kept!("Easier for {what}."),
            (Some(1), true) => kept!("One harder for {what}."),
            (Some(1), false) => kept!("One easier for {what}."),
            (Some(shifts), true) => {
                kept!("{number} harder for {what}.", number = number(shifts).0)
            }
            (Some(shifts), false) => {
                kept!("{number} easier for {what}.", number = number(shifts).0)
            }
        },
    }
}

/// Of the gear for the block that comes next, which is of this kind.
pub(super) fn ahead(told: Told, noted: bool, kind: Kind) -> String {
    let what = what(noted, kind);
    let words = match told {
        Told::Which => what.to_owned(),
        Told::This => kept!("stay in this gear, it is {what}"),
        Told::Shift { harder, shifts } => match (shifts, harder) {
            (None, true) => kept!("harder for {what}"),
            (None, false) => kept!("easier for {what}"),
            (Some(1), true) => kept!("one harder for {what}"),
            (Some(1), false) => kept!("one easier for {what}"),
            (Some(shifts), true) => kept!("{number} harder for {what}", number = number(shifts).1),
            (Some(shifts), false) => kept!("{number} easier for {what}", number = number(shifts).1),
        },
    };
    match kind {
        Kind::Hold => kept!("Next hold: {words}."),
        Kind::Sprint => kept!("Next sprint: {words}."),
        Kind::Recovery => kept!("Then: {words}."),
        _ => kept!("Next: {words}."),
    }
}

const fn what(noted: bool, kind: Kind) -> &'static str {
    match (noted, kind) {
        (true, _) => entry!("the gear you noted"),
        (false, Kind::Hold) => entry!("the last hold's gear"),
        (false, Kind::Sprint) => entry!("the last sprint's gear"),
        (false, Kind::Recovery) => entry!("the last recovery's gear"),
        (false, _) => entry!("the gear of the last one"),
    }
}

/// A number of shifts above one in words, at the beginning of a sentence and inside it; a cassette has thirteen sprockets
/// at most.
fn number(shifts: u32) -> (String, String) {
    const WORDS: [(&str, &str); 11] = [
        (entry!("Two"), entry!("two")),
        (entry!("Three"), entry!("three")),
        (entry!("Four"), entry!("four")),
        (entry!("Five"), entry!("five")),
        (entry!("Six"), entry!("six")),
        (entry!("Seven"), entry!("seven")),
        (entry!("Eight"), entry!("eight")),
        (entry!("Nine"), entry!("nine")),
        (entry!("Ten"), entry!("ten")),
        (entry!("Eleven"), entry!("eleven")),
        (entry!("Twelve"), entry!("twelve")),
    ];
    let word = WORDS.get((shifts as usize).wrapping_sub(2));
    word.map_or_else(
        || (shifts.to_string(), shifts.to_string()),
        |(first, inside)| ((*first).to_owned(), (*inside).to_owned()),
    )
}
