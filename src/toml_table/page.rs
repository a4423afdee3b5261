//! The keys of a format as a page shows them, made from its table of fields.

use super::field::{Field, Place, Sort, fields_at};
use super::value::MOST_LISTED;
use super::wording::one_of;
use crate::time::Span;
use crate::units::Legal;

/// Markdown: a heading and a table of keys for each place.
pub fn keys(fields: &'static [Field], places: &[Place]) -> String {
    let tables: Vec<String> = places
        .iter()
        .map(|&place| {
            let rows: String = fields_at(fields, place)
                .map(|field| {
                    let needed = if field.required { " **Required.**" } else { "" };
                    let example = match field.sort {
                        Sort::Tables(_) => field.example.to_owned(),
                        _ => format!("{} = {}", field.key, field.example),
                    };
                    format!(
                        "| `{}` | {} | {}{needed} | `{example}` |\n",
                        field.key,
                        takes(field.sort),
                        field.doc
                    )
                })
                .collect();
            let name = place.0;
            format!("### Keys of {name}\n\n| key | takes | what it means | example |\n|---|---|---|---|\n{rows}")
        })
        .collect();
    tables.join("\n")
}

/// What a sort of value is, in a few words with its bounds.
fn takes(sort: Sort) -> String {
    let bounds = |legal: Legal| {
        let unit = if legal.unit.is_empty() {
            String::new()
        } else {
            format!(" {}", legal.unit)
        };
        if legal.least == legal.most {
            format!("{}{unit}", legal.least)
        } else {
            format!("{} to {}{unit}", legal.least, legal.most)
        }
    };
    let clock = |legal: Legal| {
        let bound = Span::from_seconds_f64;
        format!("a time, {} to {}", bound(legal.least), bound(legal.most))
    };
    match sort {
        Sort::Text(most) => format!("text, up to {most} characters"),
        Sort::Word(words) => one_of(
            &words
                .iter()
                .map(|word| format!("`{word}`"))
                .collect::<Vec<_>>()
                .iter()
                .map(String::as_str)
                .collect::<Vec<_>>(),
        ),
        Sort::Words(words) if words.len() > MOST_LISTED => {
            format!("a list of any of {} words, named below", words.len())
        }
        Sort::Words(words) => format!("a list of {}", words.join(", ")),
        Sort::Clock(legal) => clock(legal),
        Sort::ClockOr(legal, word) => format!("{}, or `{word}`", clock(legal)),
        Sort::Number(legal) => format!("a number, {}", bounds(legal)),
        Sort::Whole(legal) => format!("a whole number, {}", bounds(legal)),
        Sort::Line(legal) => format!("a number, or a line of two, {}", bounds(legal)),
        Sort::Band(legal) => format!("a number, or a band of two, {}", bounds(legal)),
        Sort::Numbers(legal, count) => format!("{count} numbers, {}", bounds(legal)),
        Sort::Wholes(legal, most) => {
            format!("a list of up to {most} whole numbers, {}", bounds(legal))
        }
        Sort::Flag => "true or false".to_owned(),
        Sort::Tables(places) => {
            let names: Vec<&str> = places.iter().map(|place| place.0).collect();
            format!("one table or more, each {}", one_of(&names))
        }
    }
}
