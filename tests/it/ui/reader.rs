//! What a screen reader is given, in every state: each control has a name of its own, each figure a value, and what is
//! said is what stands on the screen.

use std::collections::BTreeSet;

use egui::accesskit::Role;
use egui::{Rect, pos2};
use egui_kittest::kittest::NodeT as _;
use stillroad::text::{Language, language, word};

use super::hand::Window;
use super::states;

/// What the rider can work.
const CONTROLS: [Role; 13] = [
    Role::Button,
    Role::CheckBox,
    Role::ColorWell,
    Role::ComboBox,
    Role::Link,
    Role::MultilineTextInput,
    Role::PasswordInput,
    Role::RadioButton,
    Role::Slider,
    Role::SpinButton,
    Role::Switch,
    Role::Tab,
    Role::TextInput,
];

/// Pictures put into words of their own: what they say is not painted letter by letter, and the figures at their scales
/// are not said one by one.
const PICTURES: [&str; 7] = [
    "Strip",
    "Cadence pulse",
    "Whole ride",
    "Preview",
    "Cadence band",
    "Whole session",
    "Choices",
];

/// What stands beside a figure to say what it is, and the name by which a reader is told the same.
const CAPTIONS: [(&str, &str); 1] = [("aim for", "Aim")];

/// A node of the accessibility tree.
#[derive(Clone, Debug, PartialEq)]
struct Node {
    role: Role,
    name: String,
    value: String,
    place: Rect,
}

impl Node {
    fn is_picture(&self) -> bool {
        // A question for a rating is a row of figures of which the chosen one is the value.
        let questions = [
            "How hard was that, 0 to 10?",
            "How hard was the whole ride, 0 to 10?",
        ];
        let mut names = PICTURES.iter().chain(&questions);
        names.any(|name| word(name) == self.name)
    }

    /// What of its value has to stand on the screen: the stop signs and what follows from a first sentence are said even
    /// where there is no room for them.
    fn must_be_seen(&self) -> &str {
        let first = |name: &str| name == word("Sentence") || name == word("What to do");
        match self.name.as_str() {
            name if name == word("Stop signs") => "",
            name if first(name) => self.value.split(". ").next().unwrap_or_default(),
            _ => &self.value,
        }
    }

    fn words(&self) -> BTreeSet<String> {
        &words(&self.name) | &words(&self.value)
    }
}

/// How a figure that is not known is said.
fn not_known() -> &'static str {
    match language() {
        Language::English => "not known",
        Language::German => "nicht bekannt",
    }
}

/// Words and figures without what stands between them. A dash is said as "not known"; the dot before what is chosen is
/// the control's state.
fn words(text: &str) -> BTreeSet<String> {
    text.replace('–', not_known())
        .split_whitespace()
        .map(|word| word.trim_matches(|letter: char| ",.;:()?…•".contains(letter)))
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect()
}

/// What is wrong with a tree beside the texts that are painted, a sentence each.
fn faults(nodes: &[Node], texts: &[(String, Rect)]) -> Vec<String> {
    let mut faults = Vec::new();
    let mut names = BTreeSet::new();
    for node in nodes {
        let control = CONTROLS.contains(&node.role);
        let figure = node.role == Role::Status;
        if (control || figure) && node.name.trim().is_empty() {
            faults.push(format!("without a name: {node:?}"));
        }
        if figure && node.value.trim().is_empty() {
            faults.push(format!("a figure without a value: {node:?}"));
        }
        if (control || figure) && !names.insert(node.name.clone()) {
            faults.push(format!("another of this name: {node:?}"));
        }
        let within = |slack: f32| {
            let inside = texts
                .iter()
                .filter(move |(_, place)| node.place.expand(slack).intersects(*place));
            inside.fold(BTreeSet::new(), |all, (text, _)| &all | &words(text))
        };
        let missing: Vec<String> = match node.role {
            // What a label says is painted where it lies.
            Role::Label => words(&node.value)
                .difference(&within(2.0))
                .cloned()
                .collect(),
            Role::Status if !node.is_picture() => words(node.must_be_seen())
                .difference(&within(2.0))
                .cloned()
                .collect(),
            _ => Vec::new(),
        };
        if !missing.is_empty() {
            faults.push(format!(
                "said and not on the screen: {missing:?} of {node:?}"
            ));
        }
    }
    for (text, place) in texts {
        // The middle of a text lies in what says it; the figures of a picture lie in the picture.
        let says = |node: &&Node| {
            node.place.expand(2.0).contains(place.center())
                && (node.is_picture()
                    // The unit of a figure that is not known need not be said.
                    || node.value.starts_with(not_known())
                    || words(text).is_subset(&node.words()))
        };
        let caption = CAPTIONS.iter().find(|(caption, _)| word(caption) == text);
        if caption.is_some_and(|(_, name)| names.contains(word(name))) {
            continue;
        }
        if !nodes.iter().any(|node| says(&node)) {
            faults.push(format!("on the screen and not said: {text:?} at {place:?}"));
        }
    }
    faults
}

fn tree(window: &Window) -> Vec<Node> {
    let nodes = window.harness.root().children_recursive();
    nodes
        .filter_map(|node| {
            let node = node.accesskit_node();
            let place = node.bounding_box()?;
            Some(Node {
                role: node.role(),
                name: node.label().unwrap_or_default(),
                value: node.value().unwrap_or_default(),
                place: Rect::from_min_max(
                    pos2(place.x0 as f32, place.y0 as f32),
                    pos2(place.x1 as f32, place.y1 as f32),
                ),
            })
        })
        .filter(|node| node.role != Role::TextRun)
        .collect()
}

/// What is wrong in any state.
pub(super) fn wrong() -> Vec<String> {
    let mut wrong = Vec::new();
    for (state, snapshot) in states::all() {
        let riding = snapshot.mode.under_way();
        // High enough that no list has to be scrolled, where there are lists.
        let sizes = if snapshot.mode.under_way() {
            [(1280, 800), (800, 600)]
        } else {
            [(1280, 2400), (1920, 2400)]
        };
        for (width, height) in sizes {
            let mut window = Window::open(snapshot.clone(), width, height);
            if let Some(key) = states::opened_by(state) {
                window.press(key);
            }
            let texts = window.texts();
            let nodes = tree(&window);
            assert!(nodes.len() > 5, "{state}: {nodes:?}");
            let faults = faults(&nodes, &texts);
            // The rooms that are read from the chair have tables, whose rows are said in more words than are painted:
            // only the names and the values of what can be worked and of figures are looked at there.
            let counts = |fault: &&String| riding || !fault.contains("on the screen");
            let counted = faults.iter().filter(counts);
            wrong.extend(counted.map(|fault| format!("{state} at {width}: {fault}")));
        }
    }
    wrong
}

#[test]
fn a_screen_reader_is_told_what_stands_on_the_screen() {
    let wrong = wrong();
    assert!(wrong.is_empty(), "{}:\n{}", wrong.len(), wrong.join("\n"));
}

/// Each kind of fault is noticed in a tree that was right before.
#[test]
fn planted_faults_are_noticed() {
    let place = |n: f32| Rect::from_min_max(pos2(0.0, n * 30.0), pos2(200.0, n * 30.0 + 20.0));
    let node = |role, name: &str, value: &str, n| Node {
        role,
        name: name.to_owned(),
        value: value.to_owned(),
        place: place(n),
    };
    let nodes = vec![
        node(Role::Button, "pause (space)", "", 0.0),
        node(Role::Status, "Cadence", "86 rpm", 1.0),
        node(Role::Label, "", "Fan on. Water within reach.", 2.0),
        node(
            Role::Status,
            "Strip",
            "effort 7, 235 W; you are on the lane",
            3.0,
        ),
    ];
    let text = |text: &str, n| (text.to_owned(), place(n));
    let texts = vec![
        text("space", 0.0),
        text("pause", 0.0),
        text("86", 1.0),
        text("rpm", 1.0),
        text("Fan on. Water within reach.", 2.0),
        text("235 W", 3.0),
    ];
    assert_eq!(faults(&nodes, &texts), Vec::<String>::new());
    type Plant<'a> = (
        &'a str,
        &'a dyn Fn(&mut Vec<Node>, &mut Vec<(String, Rect)>),
    );
    let plants: [Plant<'_>; 8] = [
        ("without a name", &|nodes, _| nodes[0].name.clear()),
        ("without a name", &|nodes, _| nodes[3].name.clear()),
        ("a figure without a value", &|nodes, _| {
            nodes[3].value.clear()
        }),
        ("another of this name", &|nodes, _| {
            nodes.push(nodes[0].clone())
        }),
        ("said and not on the screen", &|nodes, _| {
            nodes[1].value = "68 rpm".into()
        }),
        ("said and not on the screen", &|_, texts| {
            drop(texts.remove(4))
        }),
        ("on the screen and not said", &|_, texts| {
            texts[2].0 = "85".into()
        }),
        ("on the screen and not said", &|nodes, _| {
            drop(nodes.remove(1))
        }),
    ];
    for (expected, plant) in plants {
        let (mut nodes, mut texts) = (nodes.clone(), texts.clone());
        plant(&mut nodes, &mut texts);
        let found = faults(&nodes, &texts);
        assert!(
            found.iter().any(|fault| fault.starts_with(expected)),
            "{expected}: {found:?}"
        );
    }
}
