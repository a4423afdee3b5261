//! One walk through the ledger's stages, each of which may change the value and must say why.

use crate::ride::ledger::{Entry, Ledger, Stage};
use crate::time::Span;
use crate::units::{BrakeRange, BrakeTarget};

/// A value on its way from the plan to the brake.
#[derive(Clone, Debug)]
pub struct Chain {
    entries: Vec<Entry>,
    value: f64,
}

impl Chain {
    /// What the plan asks for.
    pub fn from_plan(value: f64, why: &'static str) -> Self {
        Self {
            entries: vec![Entry {
                stage: Stage::Plan,
                input: value,
                output: value,
                why,
            }],
            value,
        }
    }

    /// The value as it stands.
    pub const fn value(&self) -> f64 {
        self.value
    }

    /// The next stage's work. The reason is kept only where the value changed.
    pub fn then(&mut self, stage: Stage, output: f64, why: &'static str) -> &mut Self {
        let changed = (output - self.value).abs() > 1e-9;
        self.entries.push(Entry {
            stage,
            input: self.value,
            output,
            why: if changed { why } else { "" },
        });
        self.value = output;
        self
    }

    /// Holds back what the last stage let through: it is still that stage's entry.
    pub fn limit(&mut self, output: f64, why: &'static str) -> &mut Self {
        if let Some(last) = self.entries.last_mut()
            && output < last.output
        {
            last.output = output;
            last.why = why;
            self.value = output;
        }
        self
    }

    /// The last stages where a level or slope makes the watts: the cap in watts, then `made_by`, the level or slope that
    /// makes what is left of them, and its own range with its step rounded down.
    pub fn finish_by(
        mut self,
        cap: f64,
        made_by: f64,
        range: BrakeRange,
        target: impl Fn(f64) -> BrakeTarget,
    ) -> Ledger {
        self.then(Stage::Cap, self.value.min(cap), entry!("the rider's cap"));
        self.then(
            Stage::SlowHold,
            made_by,
            entry!("found slowly from your power"),
        );
        self.then(
            Stage::Range,
            range.round_down(self.value),
            entry!("the trainer's range and step"),
        );
        Ledger {
            target: target(self.value),
            entries: self.entries,
            lead: Span::ZERO,
            on_its_way: false,
        }
    }

    /// The last two stages: the cap, then the trainer's range with its step rounded down.
    ///
    /// Gives nothing where the trainer's least is above the cap: then only a release keeps the promise.
    pub fn finish(
        mut self,
        cap: f64,
        range: BrakeRange,
        target: impl Fn(f64) -> BrakeTarget,
    ) -> Option<Ledger> {
        self.then(Stage::Cap, self.value.min(cap), entry!("the rider's cap"));
        self.then(
            Stage::Range,
            range.round_down(self.value),
            entry!("the trainer's range and step"),
        );
        // A range whose least is above the cap has lifted the value over it.
        (self.value <= cap).then(|| Ledger {
            target: target(self.value),
            entries: self.entries,
            lead: Span::ZERO,
            on_its_way: false,
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]

    use super::*;
    use crate::units::Watts;

    const RANGE: BrakeRange = BrakeRange {
        least: 50.0,
        most: 800.0,
        step: 5.0,
    };

    #[test]
    fn every_stage_is_kept_with_its_reason() {
        let mut chain = Chain::from_plan(203.0, "effort 8");
        chain
            .then(Stage::Trim, 207.06, "trim")
            .then(Stage::EaseDown, 207.06, "eased");
        let ledger = chain
            .finish(400.0, RANGE, |w| BrakeTarget::Power(Watts(w)))
            .unwrap();
        assert_eq!(ledger.target, BrakeTarget::Power(Watts(205.0)));
        let whys: Vec<_> = ledger.entries.iter().map(|e| (e.stage, e.why)).collect();
        assert_eq!(
            whys,
            [
                (Stage::Plan, "effort 8"),
                (Stage::Trim, "trim"),
                (Stage::EaseDown, ""),
                (Stage::Cap, ""),
                (Stage::Range, "the trainer's range and step"),
            ]
        );
        for pair in ledger.entries.windows(2) {
            assert_eq!(pair[0].output, pair[1].input);
        }
    }

    #[test]
    fn watts_that_a_level_makes_are_told_to_the_end() {
        let chain = Chain::from_plan(230.0, "effort 8");
        let levels = BrakeRange {
            least: 0.0,
            most: 20.0,
            step: 0.5,
        };
        let ledger = chain.finish_by(200.0, 7.8, levels, |level| {
            BrakeTarget::Resistance(crate::units::Level(level))
        });
        assert_eq!(
            ledger.target,
            BrakeTarget::Resistance(crate::units::Level(7.5))
        );
        assert_eq!(ledger.slow_watts(), Some(200.0));
        let told: Vec<_> = ledger.entries.iter().map(|e| (e.stage, e.output)).collect();
        assert_eq!(
            told,
            [
                (Stage::Plan, 230.0),
                (Stage::Cap, 200.0),
                (Stage::SlowHold, 7.8),
                (Stage::Range, 7.5),
            ]
        );
    }

    #[test]
    fn a_trainer_whose_least_is_above_the_cap_is_not_set() {
        let chain = Chain::from_plan(30.0, "effort 2");
        assert_eq!(
            chain.finish(45.0, RANGE, |w| BrakeTarget::Power(Watts(w))),
            None
        );
    }
}
