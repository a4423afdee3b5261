//! What the Write room shows, without drawing it.

use std::sync::Arc;

use super::{Question, Said, Start, State, Wish};
use crate::plan::{Problem, Severity};
use crate::ui::rooms::prepare::SessionCard;
use crate::ui::words;
use crate::write::{Completion, Editor, Origin, TEMPLATES};

/// One way to answer a question, or one thing to begin with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Way {
    /// Its words.
    pub words: String,
    /// What it comes to, in a sentence; may be empty.
    pub about: String,
    /// What is wished with it.
    pub wish: Wish,
}

/// Everything that the room shows, but for the text itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Data {
    /// What the session is called.
    pub name: String,
    /// Where the text belongs and whether it is saved, in a few words.
    pub file: String,
    /// The newest session that was right.
    pub card: Arc<SessionCard>,
    /// How many problems there are, in a sentence.
    pub verdict: String,
    /// Whether the session cannot be ridden as it stands.
    pub broken: bool,
    /// The problems, as `stillroad check` tells them.
    pub problems: Vec<Problem>,
    /// What is asked, and the ways to answer.
    pub question: Option<(String, Vec<Way>)>,
    /// What can be begun with, while the list is shown.
    pub list: Option<Vec<Way>>,
    /// What may stand at the cursor.
    pub offered: Arc<Completion>,
    /// Which of these is picked, while they are walked.
    pub choosing: Option<usize>,
    /// What was said last.
    pub said: Said,
    /// What the key of the cursor's line means, where it has one that is known.
    pub about_key: Option<&'static str>,
}

impl Data {
    /// What the room shows. `chosen` is the name of the session that is chosen in Prepare; `own_names` gives the names of
    /// files as far as they are known.
    pub fn new(
        state: &State,
        chosen: Option<&str>,
        own_name: impl Fn(&str) -> Option<String>,
    ) -> Self {
        let editor = state.editor.as_ref();
        let card = state.drawn.as_ref().map(|drawn| Arc::clone(&drawn.card));
        let problems = editor.map_or_else(Vec::new, |editor| editor.problems().to_vec());
        let broken = editor.is_some_and(|editor| editor.plan().is_none());
        Self {
            name: editor
                .and_then(Editor::name)
                .unwrap_or_else(|| "A session".to_owned()),
            file: editor.map_or_else(String::new, file_words),
            card: card.unwrap_or_else(nothing_right),
            verdict: editor.map_or_else(String::new, verdict),
            broken,
            problems,
            question: state.question.as_ref().map(question),
            list: state.list.as_ref().map(|own| list(own, chosen, own_name)),
            offered: Arc::clone(&state.offered.completion),
            choosing: state.choosing,
            said: state.said.clone(),
            about_key: state.offered.about_key,
        }
    }
}

/// What stands in the place of a session that was never right.
fn nothing_right() -> Arc<SessionCard> {
    let mut card = SessionCard {
        whole: words::DASH.to_owned(),
        lengths: "Not known yet.".to_owned(),
        ..SessionCard::default()
    };
    "Nothing to draw yet.".clone_into(&mut card.preview.spoken);
    Arc::new(card)
}

/// Where a text belongs, and whether it is saved.
fn file_words(editor: &Editor) -> String {
    match (editor.origin(), editor.is_unsaved()) {
        (Origin::New, false) => "No file yet".to_owned(),
        (Origin::New, true) => "Not saved yet".to_owned(),
        (Origin::Own { key, .. }, false) => format!("{key}.toml, saved"),
        (Origin::Own { key, .. }, true) => format!("{key}.toml, changes not saved"),
    }
}

fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// How the text stands, as `stillroad check` would end.
fn verdict(editor: &Editor) -> String {
    if editor.is_unread() {
        return "Looked over when you rest.".to_owned();
    }
    let errors = editor.count(Severity::Error);
    let warnings = editor.count(Severity::Warning);
    match (errors, warnings) {
        (0, 0) => "No problems.".to_owned(),
        (0, _) => format!("{}; it can be ridden.", counted(warnings, "warning")),
        (_, 0) => format!("{}; it cannot be ridden yet.", counted(errors, "error")),
        _ => format!(
            "{} and {}; it cannot be ridden yet.",
            counted(errors, "error"),
            counted(warnings, "warning")
        ),
    }
}

fn way(words: &str, about: &str, wish: Wish) -> Way {
    Way {
        words: words.to_owned(),
        about: about.to_owned(),
        wish,
    }
}

fn question(question: &Question) -> (String, Vec<Way>) {
    match question {
        Question::Changed(Some(_)) => (
            "Another program changed this file since it was read here. Nothing was saved."
                .to_owned(),
            vec![
                way(
                    "Take the file's",
                    "What is written here can be had back with undo.",
                    Wish::TakeTheirs,
                ),
                way(
                    "Keep mine",
                    "The file's is kept beside it as .previous.",
                    Wish::KeepMine,
                ),
                way(
                    "Save mine as a copy",
                    "Both stay, in files of their own.",
                    Wish::SaveCopy,
                ),
            ],
        ),
        Question::Changed(None) => (
            "Another program removed this file. Nothing was saved.".to_owned(),
            vec![
                way(
                    "Save mine as a copy",
                    "It gets a file of its own.",
                    Wish::SaveCopy,
                ),
                way("Stay at the text", "Nothing is saved.", Wish::Stay),
            ],
        ),
        Question::Unsaved(start) => (
            "This text is not saved. What becomes of it?".to_owned(),
            vec![
                way(
                    "Stay at the text",
                    "Save it first, then begin anew.",
                    Wish::Stay,
                ),
                way(
                    "Let it go",
                    "What was not saved is lost.",
                    Wish::LetGo(start.clone()),
                ),
            ],
        ),
    }
}

fn list(
    own: &[String],
    chosen: Option<&str>,
    own_name: impl Fn(&str) -> Option<String>,
) -> Vec<Way> {
    let templates = TEMPLATES.iter().enumerate().map(|(index, template)| {
        let words = format!("New: {}", template.name);
        way(&words, template.about, Wish::Start(Start::Template(index)))
    });
    let copy = chosen.map(|name| {
        let words = format!("Copy of {name}");
        way(
            &words,
            "The session that is chosen in Prepare.",
            Wish::Start(Start::Copy),
        )
    });
    let own = own.iter().map(|key| {
        let about = own_name(key).unwrap_or_else(|| "It cannot be ridden yet.".to_owned());
        way(
            &format!("{key}.toml"),
            &about,
            Wish::Start(Start::Own(key.clone())),
        )
    });
    templates.chain(copy).chain(own).collect()
}
