//! How loads, targets and lengths are worded, everywhere the same.

use super::model::{CadenceBand, Load, Target};
use crate::time::Span;

/// A load in a few words: "effort 7", "all out", "91 % of threshold", "250 W", "level 30 %", "slope 4.0 %".
pub fn load(load: Load) -> String {
    if load.is_all_out() {
        return word!("all out").to_owned();
    }
    match load {
        Load::Effort(_) => say!("effort {effort}", effort = figure(load)),
        Load::Threshold(_) => say!("{share} of threshold", share = figure(load)),
        Load::Power(_) => figure(load),
        Load::Level(_) => say!("level {level}", level = figure(load)),
        Load::Slope(_) => say!("slope {slope}", slope = figure(load)),
    }
}

/// A target in a few words: as a load, or from one to another ("effort 2 to 4"), or "as you like".
pub fn target(target: Target) -> String {
    match target {
        Target::Steady(steady) => load(steady),
        Target::Line(from, to) if from.is_all_out() && to.is_all_out() => load(from),
        Target::Line(from, to) if from.is_all_out() => {
            say!("all out to {load}", load = load(to))
        }
        Target::Line(from, to) if to.is_all_out() => say!("{load} to all out", load = load(from)),
        Target::Line(from, to) => match to {
            Load::Threshold(_) => say!(
                "{from:.0} to {to} of threshold",
                from = from.value() * 100.0,
                to = figure(to)
            ),
            Load::Power(_) => format!("{:.0} {} {}", from.value(), up_to(), figure(to)),
            Load::Level(_) => say!(
                "level {from:.0} to {to}",
                from = from.value() * 100.0,
                to = figure(to)
            ),
            Load::Slope(_) => say!(
                "slope {from:.1} to {to}",
                from = from.value(),
                to = figure(to)
            ),
            Load::Effort(_) => say!(
                "effort {from} to {to}",
                from = figure(from),
                to = figure(to)
            ),
        },
        Target::None => word!("as you like").to_owned(),
    }
}

/// What stands between the ends of a range. Not a sentence with its figures: it would be recognised in too many others.
fn up_to() -> &'static str {
    word!("to" # "from one figure to another")
}

fn figure(load: Load) -> String {
    match load {
        // Halves are shown, whole efforts without a decimal.
        Load::Effort(effort) => {
            let tenths = (effort.0 * 10.0).round() / 10.0;
            format!("{tenths}")
        }
        Load::Threshold(share) | Load::Level(share) => format!("{:.0} %", share.0 * 100.0),
        Load::Power(watts) => watts.to_string(),
        Load::Slope(grade) => grade.to_string(),
    }
}

/// A band of cadence: "85 to 95 rpm", or "90 rpm".
pub fn cadence(band: CadenceBand) -> String {
    if band.low == band.high {
        band.low.to_string()
    } else {
        format!("{:.0} {} {}", band.low.0, up_to(), band.high)
    }
}

/// A length of time as it is said: "45 seconds", "1 minute", "2 minutes 30 seconds", "1 hour 5 minutes". Parts of a
/// second are dropped.
pub fn spoken(span: Span) -> String {
    let seconds = span.whole_seconds();
    let (hours, minutes, rest) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    let mut said = Vec::new();
    match hours {
        0 => {}
        1 => said.push(word!("1 hour").to_owned()),
        count => said.push(say!("{count} hours", count)),
    }
    match minutes {
        0 => {}
        1 => said.push(word!("1 minute").to_owned()),
        count => said.push(say!("{count} minutes", count)),
    }
    match rest {
        0 if seconds > 0 => {}
        1 => said.push(word!("1 second").to_owned()),
        count => said.push(say!("{count} seconds", count)),
    }
    said.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Effort, Fraction, Grade, Rpm, Watts};

    #[test]
    fn every_sort_of_load_has_its_words() {
        for (given, expected) in [
            (Load::Effort(Effort(7.0)), "effort 7"),
            (Load::Effort(Effort(7.5)), "effort 7.5"),
            (Load::Effort(Effort(9.0)), "effort 9"),
            (Load::Effort(Effort(9.5)), "all out"),
            (Load::Threshold(Fraction(0.91)), "91 % of threshold"),
            (Load::Power(Watts(250.0)), "250 W"),
            (Load::Level(Fraction(0.3)), "level 30 %"),
            (Load::Slope(Grade(4.0)), "slope 4.0 %"),
        ] {
            assert_eq!(load(given), expected);
            assert_eq!(target(Target::Steady(given)), expected);
        }
    }

    #[test]
    fn a_line_names_its_unit_once() {
        let line = |from: Load, to: f64| target(Target::Line(from, from.with_value(to)));
        assert_eq!(line(Load::Effort(Effort(2.0)), 4.0), "effort 2 to 4");
        assert_eq!(line(Load::Effort(Effort(8.0)), 10.0), "effort 8 to all out");
        assert_eq!(line(Load::Effort(Effort(10.0)), 8.0), "all out to effort 8");
        assert_eq!(
            line(Load::Threshold(Fraction(0.8)), 0.95),
            "80 to 95 % of threshold"
        );
        assert_eq!(line(Load::Power(Watts(100.0)), 150.0), "100 to 150 W");
        assert_eq!(line(Load::Level(Fraction(0.1)), 0.4), "level 10 to 40 %");
        assert_eq!(line(Load::Slope(Grade(-1.0)), 3.0), "slope -1.0 to 3.0 %");
        assert_eq!(target(Target::None), "as you like");
    }

    #[test]
    fn times_are_said_as_one_says_them() {
        for (seconds, said) in [
            (0, "0 seconds"),
            (1, "1 second"),
            (60, "1 minute"),
            (150, "2 minutes 30 seconds"),
            (3900, "1 hour 5 minutes"),
        ] {
            assert_eq!(spoken(Span::from_seconds(seconds)), said);
        }
    }

    #[test]
    fn a_band_of_one_figure_is_one_figure() {
        let band = |low, high| CadenceBand {
            low: Rpm(low),
            high: Rpm(high),
        };
        assert_eq!(cadence(band(85.0, 95.0)), "85 to 95 rpm");
        assert_eq!(cadence(band(90.0, 90.0)), "90 rpm");
    }
}
