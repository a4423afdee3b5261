//! The session fitted to the day: what a press changes, and what is said of it.

use std::sync::Arc;

use super::{Chosen, Shelf};
use crate::plan::Plan;
use crate::plan::fit::{Fitted, MINUTES, Recoveries, WARM_UP_MINUTES, Wish, fit};
use crate::text::translated;
use crate::time::Span;

/// Minutes are taken and given in such steps.
const STEP: u32 = 5;

/// One of the ways to fit a session.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FitPress {
    /// Less time: on to the next five minutes below, or to the shortest that can be.
    Fewer,
    /// More time again, up to the session as it was written.
    More,
    /// Five minutes more of warm-up.
    WarmUp,
    /// Easier recoveries, half-way back, full again.
    Recoveries,
    /// Back to the session as it was written.
    AsWritten,
}

/// A button of the row that fits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FitButton {
    /// What a press does.
    pub press: FitPress,
    /// Its words on the screen.
    pub words: String,
    /// Its name for a screen reader.
    pub spoken: String,
}

/// What is offered where the recoveries of the session were last ridden so, towards the full ones; empty where there is
/// nothing to step back from. An offer: a session begins as it was written.
pub fn offer(last: Recoveries) -> &'static str {
    match last {
        Recoveries::Easier => word!("Last time with easier recoveries; half-way today?"),
        Recoveries::HalfWay => word!("Last time half-way back to the full recoveries; full today?"),
        Recoveries::Full => "",
    }
}

/// What a press on the recoveries makes of them. What is offered comes first.
const fn next(now: Recoveries, last: Recoveries) -> Recoveries {
    match (now, last) {
        (Recoveries::Full, Recoveries::Easier) => Recoveries::HalfWay,
        (Recoveries::HalfWay, Recoveries::Easier) => Recoveries::Easier,
        (Recoveries::Easier, Recoveries::Easier) => Recoveries::Full,
        (Recoveries::Full, _) => Recoveries::Easier,
        (other, _) => other.step_back(),
    }
}

/// The buttons, always the same five in the same places. `last` is how the recoveries were ridden last time.
pub fn buttons(wish: Wish, last: Recoveries) -> [FitButton; 5] {
    let button = |press, words: &str, spoken: &str| FitButton {
        press,
        words: words.to_owned(),
        spoken: spoken.to_owned(),
    };
    let (recoveries, spoken) = match wish.recoveries {
        Recoveries::Full => (word!("recoveries full"), word!("Recoveries: full")),
        Recoveries::HalfWay => (word!("recoveries half"), word!("Recoveries: half-way")),
        Recoveries::Easier => (word!("recoveries easier"), word!("Recoveries: easier")),
    };
    [
        button(FitPress::Fewer, word!("−5 min"), word!("Fewer minutes")),
        button(FitPress::More, word!("+5 min"), word!("More minutes")),
        button(
            FitPress::WarmUp,
            word!("warm-up +5"),
            word!("Longer warm-up"),
        ),
        match (wish.recoveries, last) {
            (Recoveries::Full, Recoveries::Easier) => {
                button(FitPress::Recoveries, word!("half-way today?"), offer(last))
            }
            _ => button(FitPress::Recoveries, recoveries, spoken),
        },
        button(
            FitPress::AsWritten,
            word!("undo"),
            word!("Undo, as written"),
        ),
    ]
}

impl Chosen {
    /// The chosen session as it was written.
    fn written(self, shelf: &Shelf) -> Option<&Arc<Plan>> {
        shelf.sessions.get(self.session).map(|(_, plan)| plan)
    }

    /// The chosen session as it will be ridden, and what was changed in it. One that cannot be fitted as wished is as it
    /// was written; a press that would lead there is refused.
    pub fn fitted(self, shelf: &Shelf) -> Option<(Arc<Plan>, Vec<String>)> {
        let written = self.written(shelf)?;
        if self.wish.is_none() {
            return Some((Arc::clone(written), Vec::new()));
        }
        Some(match fit(written, &self.wish) {
            Ok(Fitted { plan, changes }) => (Arc::new(plan), changes),
            Err(_) => (Arc::clone(written), Vec::new()),
        })
    }

    /// Takes a press, and gives the sentence of a refusal, after which all is as it was. `last` is how the recoveries were
    /// ridden last time.
    pub fn press(&mut self, shelf: &Shelf, press: FitPress, last: Recoveries) -> Option<String> {
        let written = Arc::clone(self.written(shelf)?);
        let now = self.fitted(shelf)?.0.length();
        let wish = self.wish;
        let wished = match press {
            FitPress::AsWritten => Wish::default(),
            FitPress::Recoveries => Wish {
                recoveries: next(wish.recoveries, last),
                ..wish
            },
            FitPress::WarmUp => Wish {
                warm_up: (wish.warm_up + STEP).min(WARM_UP_MINUTES.most as u32),
                ..wish
            },
            FitPress::More => {
                let whole = whole_minutes(written.length()) + wish.warm_up;
                let more = wish.minutes.map(|minutes| (minutes / STEP + 1) * STEP);
                Wish {
                    minutes: more.filter(|&more| more < whole),
                    ..wish
                }
            }
            FitPress::Fewer => return self.fewer(&written, now),
        };
        match fit(&written, &wished) {
            Ok(_) => {
                self.wish = wished;
                None
            }
            Err(refused) => Some(translated(&refused.to_string()).into_owned()),
        }
    }

    /// The next five minutes below what it is now; where that is too short the shortest that can be.
    fn fewer(&mut self, written: &Plan, now: Span) -> Option<String> {
        let below = whole_minutes(now).saturating_sub(1) / STEP * STEP;
        let mut refusal = None;
        for minutes in below.max(MINUTES.least as u32)..whole_minutes(now) {
            let wished = Wish {
                minutes: Some(minutes),
                ..self.wish
            };
            match fit(written, &wished) {
                Ok(_) => {
                    self.wish = wished;
                    return None;
                }
                Err(refused) => refusal = Some(translated(&refused.to_string()).into_owned()),
            }
        }
        Some(refusal.unwrap_or_else(|| word!("The session is as short as it can be.").to_owned()))
    }
}

fn whole_minutes(span: Span) -> u32 {
    u32::try_from(span.whole_seconds().div_ceil(60)).unwrap_or(u32::MAX)
}
