//! What the Write room shows, without drawing it.

use std::sync::Arc;

use super::{Question, Said, Start, State, Wish};
use crate::plan::{Problem, Severity};
use crate::text;
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
                .unwrap_or_else(|| word!("A session").to_owned()),
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
        lengths: word!("Not known yet.").to_owned(),
        ..SessionCard::default()
    };
    word!("Nothing to draw yet.").clone_into(&mut card.preview.spoken);
    Arc::new(card)
}

/// Where a text belongs, and whether it is saved.
fn file_words(editor: &Editor) -> String {
    match (editor.origin(), editor.is_unsaved()) {
        (Origin::New, false) => word!("No file yet").to_owned(),
        (Origin::New, true) => word!("Not saved yet").to_owned(),
        (Origin::Own { key, .. }, false) => say!("{key}.toml, saved", key),
        (Origin::Own { key, .. }, true) => say!("{key}.toml, changes not saved", key),
    }
}

fn counted(count: usize, severity: Severity) -> String {
    match (severity, count) {
        (Severity::Error, 1) => word!("1 error").to_owned(),
        (Severity::Error, _) => say!("{count} errors", count),
        (Severity::Warning, 1) => word!("1 warning").to_owned(),
        (Severity::Warning, _) => say!("{count} warnings", count),
    }
}

/// How the text stands, as `stillroad check` would end.
fn verdict(editor: &Editor) -> String {
    if editor.is_unread() {
        return word!("Looked over when you rest.").to_owned();
    }
    let [errors, warnings] = [Severity::Error, Severity::Warning].map(|of| editor.count(of));
    let counted_errors = || counted(errors, Severity::Error);
    let counted_warnings = || counted(warnings, Severity::Warning);
    match (errors, warnings) {
        (0, 0) => word!("No problems.").to_owned(),
        (0, _) => say!(
            "{warnings}; it can be ridden.",
            warnings = counted_warnings()
        ),
        (_, 0) => say!(
            "{errors}; it cannot be ridden yet.",
            errors = counted_errors()
        ),
        _ => say!(
            "{errors} and {warnings}; it cannot be ridden yet.",
            errors = counted_errors(),
            warnings = counted_warnings()
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
            word!("Another program changed this file since it was read here. Nothing was saved.")
                .to_owned(),
            vec![
                way(
                    word!("Take the file's"),
                    word!("What is written here can be had back with undo."),
                    Wish::TakeTheirs,
                ),
                way(
                    word!("Keep mine"),
                    word!("The file's is kept beside it as .previous."),
                    Wish::KeepMine,
                ),
                way(
                    word!("Save mine as a copy"),
                    word!("Both stay, in files of their own."),
                    Wish::SaveCopy,
                ),
            ],
        ),
        Question::Changed(None) => (
            word!("Another program removed this file. Nothing was saved.").to_owned(),
            vec![
                way(
                    word!("Save mine as a copy"),
                    word!("It gets a file of its own."),
                    Wish::SaveCopy,
                ),
                way(
                    word!("Stay at the text"),
                    word!("Nothing is saved."),
                    Wish::Stay,
                ),
            ],
        ),
        Question::Unsaved(start) => (
            word!("This text is not saved. What becomes of it?").to_owned(),
            vec![
                way(
                    word!("Stay at the text"),
                    word!("Save it first, then begin anew."),
                    Wish::Stay,
                ),
                way(
                    word!("Let it go"),
                    word!("What was not saved is lost."),
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
        let words = say!("New: {name}", name = text::word(template.name));
        way(
            &words,
            text::word(template.about),
            Wish::Start(Start::Template(index)),
        )
    });
    let copy = chosen.map(|name| {
        let words = say!("Copy of {name}", name);
        way(
            &words,
            word!("The session that is chosen in Prepare."),
            Wish::Start(Start::Copy),
        )
    });
    let own = own.iter().map(|key| {
        let about = own_name(key).unwrap_or_else(|| word!("It cannot be ridden yet.").to_owned());
        way(
            &format!("{key}.toml"),
            &about,
            Wish::Start(Start::Own(key.clone())),
        )
    });
    templates.chain(copy).chain(own).collect()
}
