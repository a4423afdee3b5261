//! The rider file: from text to a [`Rider`] with every problem, and back.

use std::fmt::Write as _;
use std::sync::Arc;

use super::fields::{CONFIRMED, FIELDS, NEVER, RIDER};
use super::{Drivetrain, EffortMap, PauseAfter, Rider};
use crate::toml_table::{
    Problem, Problems, Table, Value, Values, decode, one_of, parse, quoted, read_table,
};
use crate::units::{Bpm, Joules, Watts};

/// Reads a rider from a file's bytes; see [`read`].
pub fn read_bytes(bytes: &[u8]) -> (Option<Rider>, Vec<Problem>) {
    match decode(bytes) {
        Ok(text) => read(text),
        Err(problem) => (None, vec![problem]),
    }
}

/// Reads a rider from their file's text: the rider where nothing in it is an error, and every problem.
///
/// What is not given keeps the cautious value of a first start, and is among the rider's unconfirmed figures. An empty
/// file is therefore a rider too.
pub fn read(text: &str) -> (Option<Rider>, Vec<Problem>) {
    let text = match decode(text.as_bytes()) {
        Ok(text) => text,
        Err(problem) => return (None, vec![problem]),
    };
    let mut problems = Problems::new(text);
    let mut rider = None;
    parse(text, &mut problems, |entries, lost_keys, problems| {
        let table = Table { at: 0, entries };
        let values = read_table(FIELDS, RIDER, table, lost_keys, problems);
        rider = Some(from_values(&values, problems));
    });
    let rider = rider.filter(|_| !problems.has_errors());
    (rider, problems.finish())
}

fn from_values(values: &Values, problems: &mut Problems) -> Rider {
    let cautious = Rider::default();
    let watts = |key, default: Watts| values.number(key).map_or(default, Watts);
    let bpm = |key| values.number(key).map(Bpm);
    let rider = Rider {
        name: values.text("name").unwrap_or(cautious.name),
        threshold: watts("threshold", cautious.threshold),
        power_cap: watts("power_cap", cautious.power_cap),
        sprint_cap: watts("sprint_cap", cautious.sprint_cap),
        w_prime: values.number("w_prime").map_or(cautious.w_prime, Joules),
        // The bounds of the field keep it from 10 to 110.
        age: values.number("age").map(|age| age as u8),
        max_heart_rate: bpm("max_heart_rate"),
        rest_heart_rate: bpm("rest_heart_rate"),
        heart_rate_ceiling: bpm("heart_rate_ceiling"),
        pause_after: match values.get("pause_after") {
            Some(Value::Word(_)) => PauseAfter::Never,
            Some(&Value::Clock(span)) => PauseAfter::After(span),
            _ => cautious.pause_after,
        },
        meter_led: values.flag("meter_led").unwrap_or(cautious.meter_led),
        drivetrain: Drivetrain {
            chainrings: teeth(values, "chainrings"),
            sprockets: teeth(values, "sprockets"),
        },
        effort_map: effort_map(values, problems),
        unconfirmed: unconfirmed(values, problems),
        source: Arc::from(problems.text()),
    };
    check_together(&rider, values, problems);
    rider
}

fn teeth(values: &Values, key: &str) -> Vec<u16> {
    match values.get(key) {
        // The bounds of the fields keep them under a hundred.
        Some(Value::Numbers(teeth)) => teeth.iter().map(|&teeth| teeth as u16).collect(),
        _ => Vec::new(),
    }
}

fn effort_map(values: &Values, problems: &mut Problems) -> EffortMap {
    let Some(Value::Numbers(numbers)) = values.get("effort_map") else {
        return EffortMap::default();
    };
    let map = <[f64; 10]>::try_from(numbers.as_slice())
        .ok()
        .and_then(EffortMap::new);
    map.unwrap_or_else(|| {
        problems.error(
            values.at("effort_map"),
            word!("The effort map does not rise from 0 at effort 0 by 0.01 at least from each effort to the next."),
            word!("Write ten rising shares of threshold, the first of them 0."),
        );
        EffortMap::default()
    })
}

fn unconfirmed(values: &Values, problems: &mut Problems) -> Vec<String> {
    let confirmed: &[&str] = match values.get("confirmed") {
        Some(Value::Words(words)) => words,
        _ => &[],
    };
    let absent: Vec<&str> = confirmed
        .iter()
        .copied()
        .filter(|key| !values.has(key))
        .collect();
    if !absent.is_empty() {
        problems.error(
            values.at("confirmed"),
            say!(
                "The list confirms {keys}, which the file does not give.",
                keys = quoted(&one_of(&absent))
            ),
            word!("Give the figure, or take it out of the list."),
        );
    }
    CONFIRMED
        .iter()
        .filter(|key| !confirmed.contains(key))
        .map(|&key| key.to_owned())
        .collect()
}

/// Figures that are right by themselves and wrong together.
fn check_together(rider: &Rider, values: &Values, problems: &mut Problems) {
    if rider.sprint_cap < rider.power_cap {
        let key = if values.has("sprint_cap") {
            "sprint_cap"
        } else {
            "power_cap"
        };
        problems.error(
            values.at(key),
            say!(
                "The sprint cap of {sprint} is below the power cap of {power}.",
                sprint = rider.sprint_cap,
                power = rider.power_cap
            ),
            word!("Give a sprint cap that is not below the power cap."),
        );
    }
    if rider.power_cap < rider.threshold {
        let key = if values.has("power_cap") {
            "power_cap"
        } else {
            "threshold"
        };
        problems.warning(
            values.at(key),
            say!(
                "The power cap of {cap} is below the threshold of {threshold}: hard blocks will be held at the cap.",
                cap = rider.power_cap,
                threshold = rider.threshold
            ),
            word!("Raise the cap if that is not meant."),
        );
    }
    for (given, missing) in [("chainrings", "sprockets"), ("sprockets", "chainrings")] {
        if values.has(given) && !values.has(missing) {
            problems.warning(
                values.at(given),
                say!(
                    "`{given}` stands without `{missing}`: shifts are not counted.",
                    given,
                    missing
                ),
                say!("Add the {missing}, or leave both out.", missing),
            );
        }
    }
    let pairs = [
        (
            "heart_rate_ceiling",
            rider.heart_rate_ceiling,
            "max_heart_rate",
            rider.max_heart_rate,
        ),
        (
            "rest_heart_rate",
            rider.rest_heart_rate,
            "heart_rate_ceiling",
            rider.heart_rate_ceiling,
        ),
        (
            "rest_heart_rate",
            rider.rest_heart_rate,
            "max_heart_rate",
            rider.max_heart_rate,
        ),
    ];
    for (low_key, low, high_key, high) in pairs {
        let (Some(low), Some(high)) = (low, high) else {
            continue;
        };
        // A ceiling at the maximum is a choice; a resting rate at it is a slip.
        let wrong = if low_key == "rest_heart_rate" {
            low >= high
        } else {
            low > high
        };
        if wrong {
            problems.error(
                values.at(low_key),
                say!(
                    "`{low_key}` of {low} is not below `{high_key}` of {high}.",
                    low_key,
                    low,
                    high_key,
                    high
                ),
                word!("Mend whichever of them is wrong."),
            );
        }
    }
}

/// A rider as a file that [`read`] gives back the same (but for the source, which is the new text).
pub fn to_toml(rider: &Rider) -> String {
    let mut text = String::new();
    let mut line = |key: &str, value: String| {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{key} = {value}");
    };
    let string = |value: &str| toml::Value::String(value.to_owned()).to_string();
    line("name", string(&rider.name));
    line("threshold", rider.threshold.0.to_string());
    line("power_cap", rider.power_cap.0.to_string());
    line("sprint_cap", rider.sprint_cap.0.to_string());
    line("w_prime", rider.w_prime.0.to_string());
    if let Some(age) = rider.age {
        line("age", age.to_string());
    }
    let rates = [
        ("max_heart_rate", rider.max_heart_rate),
        ("rest_heart_rate", rider.rest_heart_rate),
        ("heart_rate_ceiling", rider.heart_rate_ceiling),
    ];
    for (key, rate) in rates {
        if let Some(rate) = rate {
            line(key, rate.0.to_string());
        }
    }
    line(
        "pause_after",
        match rider.pause_after {
            PauseAfter::Never => string(NEVER),
            PauseAfter::After(span) => string(&span.to_string()),
        },
    );
    if rider.meter_led {
        line("meter_led", "true".to_owned());
    }
    let lists = [
        ("chainrings", &rider.drivetrain.chainrings),
        ("sprockets", &rider.drivetrain.sprockets),
    ];
    for (key, teeth) in lists {
        if !teeth.is_empty() {
            line(key, format!("{teeth:?}"));
        }
    }
    let shares: Vec<String> = rider
        .effort_map
        .shares()
        .iter()
        .map(|share| format!("{share:?}"))
        .collect();
    line("effort_map", format!("[{}]", shares.join(", ")));
    let confirmed: Vec<String> = CONFIRMED
        .iter()
        .filter(|&&key| {
            !rider
                .unconfirmed
                .iter()
                .any(|unconfirmed| unconfirmed == key)
        })
        .map(|key| string(key))
        .collect();
    line("confirmed", format!("[{}]", confirmed.join(", ")));
    text
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::time::Span;
    use crate::toml_table::Severity;

    const GOOD: &str = r#"
name = "Lamp \"keeper\""
threshold = 182.5
power_cap = 260
sprint_cap = 500
w_prime = 15000
age = 41
max_heart_rate = 182
rest_heart_rate = 56
heart_rate_ceiling = 170
pause_after = "never"
meter_led = true
chainrings = [50, 34]
sprockets = [11, 13, 15, 17, 19, 21, 23]
effort_map = [0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 1.0]
confirmed = ["threshold", "sprint_cap"]
"#;

    #[test]
    fn every_key_is_read() {
        let (rider, problems) = read(GOOD);
        assert_eq!(problems, []);
        let rider = rider.unwrap();
        assert_eq!(rider.name, "Lamp \"keeper\"");
        assert_eq!(rider.threshold, Watts(182.5));
        assert_eq!(rider.power_cap, Watts(260.0));
        assert_eq!(rider.sprint_cap, Watts(500.0));
        assert_eq!(rider.w_prime, Joules(15_000.0));
        assert_eq!(rider.age, Some(41));
        assert_eq!(rider.max_heart_rate, Some(Bpm(182.0)));
        assert_eq!(rider.rest_heart_rate, Some(Bpm(56.0)));
        assert_eq!(rider.heart_rate_ceiling, Some(Bpm(170.0)));
        assert_eq!(rider.pause_after, PauseAfter::Never);
        assert!(rider.meter_led);
        assert_eq!(rider.drivetrain.chainrings, [50, 34]);
        assert_eq!(rider.drivetrain.sprockets, [11, 13, 15, 17, 19, 21, 23]);
        assert_eq!(rider.effort_map.shares()[9], 1.0);
        assert_eq!(rider.unconfirmed, ["power_cap", "w_prime"]);
        assert_eq!(&*rider.source, GOOD);
    }

    #[test]
    fn an_empty_file_is_the_cautious_rider_with_nothing_confirmed() {
        let (rider, problems) = read("");
        assert_eq!(problems, []);
        // Rules of the ride: 120 W, caps of 200 and 300 W, 12 kJ, nothing about the heart, twenty seconds.
        let rider = rider.unwrap();
        assert_eq!(
            (rider.threshold, rider.power_cap, rider.sprint_cap),
            (Watts(120.0), Watts(200.0), Watts(300.0))
        );
        assert_eq!(rider.w_prime, Joules(12_000.0));
        assert_eq!(rider.unconfirmed.len(), 4);
        assert_eq!(rider.pause_after, PauseAfter::After(Span::from_seconds(20)));
        assert_eq!(
            (rider.age, rider.max_heart_rate, rider.heart_rate_ceiling),
            (None, None, None)
        );
        assert!(!rider.meter_led);
    }

    #[test]
    fn an_age_sets_no_ceiling() {
        let (rider, _) = read("age = 60");
        assert_eq!(rider.unwrap().heart_rate_ceiling, None);
    }

    #[test]
    fn a_rider_written_and_read_is_the_same() {
        for text in [GOOD, "", "pause_after = \"1:05\"\nthreshold = 99.9"] {
            let first = read(text).0.unwrap();
            let (second, problems) = read(&to_toml(&first));
            assert_eq!(problems, [], "{}", to_toml(&first));
            let second = Rider {
                source: first.source.clone(),
                ..second.unwrap()
            };
            assert_eq!(second, first);
        }
    }

    /// What each slip is called, and where.
    #[test]
    fn every_slip_is_refused_with_its_line() {
        for (text, line, says) in [
            (
                "\nthreshold = 20",
                2,
                "A threshold of 20 W is outside 30 to 600 W.",
            ),
            ("threshold = \"180\"", 1, "takes a number"),
            ("power_cap = 5000", 1, "A power cap of 5000 W"),
            ("sprint_cap = 9000", 1, "A sprint cap of 9000 W"),
            ("sprint_cap = 150", 1, "below the power cap of 200 W"),
            ("power_cap = 400", 1, "The sprint cap of 300 W is below"),
            ("w_prime = 12", 1, "A W′ of 12 J"),
            ("age = 7", 1, "An age of 7 years"),
            ("age = 41.5", 1, "whole number"),
            ("max_heart_rate = 400", 1, "A heart rate of 400 bpm"),
            ("rest_heart_rate = 10", 1, "A heart rate of 10 bpm"),
            ("heart_rate_ceiling = nan", 1, "A heart rate of NaN bpm"),
            (
                "max_heart_rate = 150\nheart_rate_ceiling = 160",
                2,
                "`heart_rate_ceiling` of 160 bpm is not below",
            ),
            (
                "max_heart_rate = 60\nrest_heart_rate = 60",
                2,
                "`rest_heart_rate` of 60 bpm is not below",
            ),
            (
                "heart_rate_ceiling = 60\nrest_heart_rate = 70",
                2,
                "not below `heart_rate_ceiling`",
            ),
            ("pause_after = \"0:02\"", 1, "outside 0:05 to 2:00"),
            ("pause_after = \"newer\"", 1, "is not a length of time"),
            ("meter_led = 1", 1, "takes"),
            ("chainrings = 50", 1, "takes a list of whole numbers"),
            ("chainrings = []", 1, "has 0 figures"),
            ("chainrings = [50, 42, 34, 26]", 1, "from one to 3"),
            ("chainrings = [50, 50]", 1, "50 stands in the list of"),
            ("chainrings = [19]", 1, "A chainring of 19 teeth is outside"),
            ("\nsprockets = [11, 12.5]", 2, "whole number"),
            ("sprockets = [7]", 1, "A sprocket of 7 teeth is outside"),
            ("sprockets = \"11-28\"", 1, "takes a list of whole numbers"),
            ("pause_after = 00:00:20", 1, "stands without quotes"),
            ("effort_map = [0, 1]", 1, "has 2 figures and not 10"),
            (
                "effort_map = [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0]",
                1,
                "does not rise",
            ),
            ("confirmed = [\"age\"]", 1, "does not know the word"),
            (
                "confirmed = [\"threshold\"]",
                1,
                "which the file does not give",
            ),
            ("name = \"\"", 1, "is empty"),
            ("name = 7", 1, "takes text in quotes"),
            ("treshold = 100", 1, "`treshold` is not a key"),
            ("age = 41\nage = 42", 2, "a second time"),
        ] {
            let (rider, problems) = read(text);
            assert!(rider.is_none(), "{text}");
            let found = problems.iter().find(|problem| problem.what.contains(says));
            assert!(found.is_some(), "{text}: {problems:?}");
            assert_eq!(found.unwrap().line, line, "{text}");
            assert!(!found.unwrap().instead.is_empty());
        }
    }

    #[test]
    fn half_a_drivetrain_is_a_warning_and_counts_nothing() {
        for (text, says) in [
            ("chainrings = [50, 34]", "without `sprockets`"),
            ("sprockets = [11, 12]", "without `chainrings`"),
        ] {
            let (rider, problems) = read(text);
            assert!(!rider.unwrap().drivetrain.is_known());
            assert_eq!(problems.len(), 1);
            assert_eq!(problems[0].severity, Severity::Warning);
            assert!(problems[0].what.contains(says), "{problems:?}");
        }
    }

    #[test]
    fn a_cap_below_threshold_is_a_warning() {
        let (rider, problems) = read("threshold = 250");
        assert!(rider.is_some());
        assert_eq!(problems.len(), 1);
        assert_eq!(problems[0].severity, Severity::Warning);
    }
}
