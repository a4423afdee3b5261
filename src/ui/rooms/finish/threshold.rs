//! What a threshold test came to: a calm question whether its value shall stand from now on, or why there is none.

use egui::{Align2, Button, Id, Rect, RichText, Ui, pos2};

use crate::engine::snapshot::{Snapshot, TestOutcome};
use crate::rider::Rider;
use crate::text::translated;
use crate::ui::keys::Hands;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name, text};

/// What is shown of a test.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proposal {
    /// The question, or what became of it.
    pub question: String,
    /// How the value was found and how sure it is, or why there is none.
    pub detail: String,
    /// The words of the button that takes it; none where nothing waits for an answer.
    pub take: Option<String>,
    /// Which of the two buttons the keys have chosen: to take it, or not.
    pub chosen: Option<bool>,
}

/// What the room shows in the rating's place once the ride was rated; none after a ride that was no test.
pub fn proposal(snapshot: &Snapshot, hands: &Hands) -> Option<Proposal> {
    let told = snapshot.test.as_ref()?;
    if snapshot.question.is_some() {
        return None;
    }
    Some(match &told.found {
        Err(why) => Proposal {
            question: word!("The test gave no value, and nothing was changed.").to_owned(),
            detail: why
                .iter()
                .map(|why| translated(why))
                .collect::<Vec<_>>()
                .join(" "),
            take: None,
            chosen: None,
        },
        Ok(found) => {
            let detail = format!("{} {}", translated(&found.method), translated(&found.doubt));
            let (question, take) = match told.taken {
                None => (
                    say!(
                        "Take {threshold} as your threshold from now on? The last was {before}. Give or take {give}.",
                        threshold = found.threshold,
                        before = told.before,
                        give = found.give
                    ),
                    Some(say!("Take {threshold}", threshold = found.threshold)),
                ),
                Some(true) => (
                    say!(
                        "{threshold} is your threshold from now on.",
                        threshold = found.threshold
                    ),
                    None,
                ),
                Some(false) => (
                    say!(
                        "Your threshold stays as it was, {before}.",
                        before = told.before
                    ),
                    None,
                ),
            };
            Proposal {
                question,
                detail,
                take,
                chosen: hands.take_found(),
            }
        }
    })
}

/// The rider with what the test found; nothing where it found nothing. Caps stay as they are.
pub fn with_finding(rider: &Rider, told: &TestOutcome) -> Option<Rider> {
    let found = told.found.as_ref().ok()?;
    let mut rider = rider.clone();
    rider.threshold = found.threshold;
    rider.unconfirmed.retain(|key| key != "threshold");
    if let Some(w_prime) = found.w_prime {
        rider.w_prime = w_prime;
        rider.unconfirmed.retain(|key| key != "w_prime");
    }
    Some(rider)
}

fn seen() -> Id {
    Id::unique("threshold-question-seen")
}

/// No question stands: the next one that comes is new.
pub(super) fn forget(ui: &Ui) {
    ui.data_mut(|data| data.remove::<bool>(seen()));
}

/// Draws it over `rect`; the answer where one was given. Tab goes to the buttons, enter presses.
pub(super) fn show(ui: &mut Ui, rect: Rect, proposal: &Proposal, look: Look) -> Option<bool> {
    let colours = look.colours;
    let upper = rect.with_max_y(rect.top() + rect.height() * 0.30);
    let buttons = rect.with_min_y(rect.bottom() - rect.height() * 0.34);
    let lower = match proposal.take {
        Some(_) => buttons.top() - look.pt(4.0),
        None => rect.bottom(),
    };
    let middle = Rect::from_min_max(pos2(rect.left(), upper.bottom()), pos2(rect.right(), lower));
    let line = text::line(
        ui.painter(),
        &proposal.question,
        regular,
        look.pt(size::UNIT),
        upper.width(),
        colours.ink,
    );
    text::place(ui.painter(), line, upper, Align2::LEFT_CENTER, colours.ink);
    name(ui, upper, word!("Threshold test"), &proposal.question);
    let block = text::block(
        ui.painter(),
        &proposal.detail,
        regular,
        look.pt(size::SMALL - 2.0),
        middle.size(),
        colours.quiet,
    );
    text::place(ui.painter(), block, middle, Align2::LEFT_TOP, colours.quiet);
    name(ui, middle, word!("How it was found"), &proposal.detail);
    let take = proposal.take.as_ref()?;
    let width = look.pt(220.0).min(buttons.width() / 2.2);
    let mut press = |slot: f32, label: &str, chosen: bool| {
        let left = buttons.left() + slot * (width + look.pt(14.0));
        let place = Rect::from_min_max(
            pos2(left, buttons.top()),
            pos2(left + width, buttons.bottom()),
        );
        // What the keys have chosen stands in reverse, as a chosen rating does.
        let font = if chosen { bold } else { regular };
        let mut words = RichText::new(label).font(font(look.pt(size::SMALL)));
        if chosen {
            words = words.color(colours.ground);
        }
        let mut button = Button::new(words).min_size(place.size());
        if chosen {
            button = button.fill(colours.ink);
        }
        let response = ui.put(place, button);
        if chosen {
            ui.ctx().accesskit_node_builder(response.id, |node| {
                node.set_value(word!("chosen"));
            });
        }
        response
    };
    let chosen = proposal.chosen;
    let yes = press(0.0, take, chosen == Some(true));
    let no = press(1.0, word!("Not now"), chosen == Some(false));
    // Enter would leave the room with the question open: it belongs to *not now* when the question comes.
    let came = ui.data_mut(|data| !std::mem::replace(data.get_temp_mut_or_default(seen()), true));
    if came {
        no.request_focus();
    }
    let (yes, no) = (yes.clicked(), no.clicked());
    (yes || no).then_some(yes)
}
