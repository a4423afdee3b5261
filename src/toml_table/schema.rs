//! The JSON Schema of a format, made from its table of fields.

use serde_json::{Map, Value, json};

use super::field::{Field, Place, Sort, fields_at};
use crate::units::Legal;

/// Lengths of time as a clock shows them.
const CLOCK: &str = "^([0-9]{1,4}:[0-5][0-9]|[0-9]{1,4}:[0-5][0-9]:[0-5][0-9])$";

/// The schema (draft 2020-12) of a file whose root is `root`. What one key asks of another is not in the table and has
/// to be added by the format.
pub fn schema(title: &str, fields: &'static [Field], root: Place) -> Value {
    let mut places: Vec<Place> = Vec::new();
    for field in fields {
        for &place in field.places {
            if place != root && !places.contains(&place) {
                places.push(place);
            }
        }
    }
    let mut whole = table(fields, root);
    whole.insert(
        "$schema".to_owned(),
        json!("https://json-schema.org/draft/2020-12/schema"),
    );
    whole.insert("title".to_owned(), json!(title));
    if !places.is_empty() {
        let defs = places
            .into_iter()
            .map(|place| (name_of(place), Value::Object(table(fields, place))))
            .collect();
        whole.insert("$defs".to_owned(), Value::Object(defs));
    }
    Value::Object(whole)
}

/// The name of a place among the schema's definitions: "a block" is `block`.
pub fn name_of(place: Place) -> String {
    place.0.trim_start_matches("a ").replace(' ', "-")
}

fn table(fields: &'static [Field], place: Place) -> Map<String, Value> {
    let properties: Map<String, Value> = fields_at(fields, place)
        .map(|field| {
            let mut property = sort(field.sort);
            property.insert("description".to_owned(), json!(field.doc));
            (field.key.to_owned(), Value::Object(property))
        })
        .collect();
    let required: Vec<&str> = fields_at(fields, place)
        .filter(|field| field.required)
        .map(|field| field.key)
        .collect();
    let mut table = Map::new();
    table.insert("type".to_owned(), json!("object"));
    table.insert("properties".to_owned(), Value::Object(properties));
    table.insert("required".to_owned(), json!(required));
    table.insert("additionalProperties".to_owned(), json!(false));
    table
}

fn sort(sort: Sort) -> Map<String, Value> {
    let number =
        |legal: Legal| json!({"type": "number", "minimum": legal.least, "maximum": legal.most});
    let whole =
        |legal: Legal| json!({"type": "integer", "minimum": legal.least, "maximum": legal.most});
    let list = |legal: Legal, count: usize| json!({"type": "array", "items": number(legal), "minItems": count, "maxItems": count});
    let clock = || json!({"type": "string", "pattern": CLOCK});
    let made = match sort {
        Sort::Text(most) => json!({"type": "string", "minLength": 1, "maxLength": most}),
        Sort::Word(words) => json!({"enum": words}),
        Sort::Words(words) => {
            json!({"type": "array", "items": {"enum": words}, "uniqueItems": true})
        }
        Sort::Clock(_) => clock(),
        Sort::ClockOr(_, word) => json!({"anyOf": [clock(), {"const": word}]}),
        Sort::Number(legal) => number(legal),
        Sort::Whole(legal) => whole(legal),
        Sort::Line(legal) | Sort::Band(legal) => json!({"anyOf": [number(legal), list(legal, 2)]}),
        Sort::Numbers(legal, count) => list(legal, count),
        Sort::Wholes(legal, most) => {
            json!({"type": "array", "items": whole(legal), "minItems": 1, "maxItems": most, "uniqueItems": true})
        }
        Sort::Flag => json!({"type": "boolean"}),
        Sort::Tables(places) => {
            let references: Vec<Value> = places
                .iter()
                .map(|&place| json!({"$ref": format!("#/$defs/{}", name_of(place))}))
                .collect();
            json!({"type": "array", "minItems": 1, "items": {"anyOf": references}})
        }
    };
    match made {
        Value::Object(map) => map,
        _ => Map::new(),
    }
}
