//! The session format as a JSON Schema and as tables of keys.

use serde_json::{Value, json};

use super::cue::FIELD_DOCS;
use super::fields::{BLOCK, CUE, FIELDS, INNER_SET, SESSION, SET, TARGETS};
use crate::toml_table::{page, schema};

/// The JSON Schema of a session file.
pub fn session_schema() -> Value {
    let mut whole = schema::schema("A Stillroad session", FIELDS, SESSION);
    let one = |key: &str| json!({"required": [key]});
    let targets: Vec<Value> = TARGETS.iter().map(|key| one(key)).collect();
    let kind_is =
        |kind: &str| json!({"properties": {"kind": {"const": kind}}, "required": ["kind"]});
    if let Some(block) = whole.pointer_mut("/$defs/block") {
        // A free block asks for nothing, every other has one target; only a sprint says who makes the watts.
        block["allOf"] = json!([
            {"if": kind_is("free"), "then": {"not": {"anyOf": targets}}, "else": {"oneOf": targets}},
            {"if": {"required": ["brake"]}, "then": kind_is("sprint")},
        ]);
    }
    if let Some(cue) = whole.pointer_mut("/$defs/cue") {
        cue["oneOf"] = json!([one("at"), one("before_end")]);
    }
    whole
}

/// The tables of keys and of cue fields for the format's page, as Markdown.
pub fn session_keys() -> String {
    let keys = page::keys(FIELDS, &[SESSION, BLOCK, SET, INNER_SET, CUE]);
    let fields: String = FIELD_DOCS
        .iter()
        .map(|(name, doc)| format!("| `{{{name}}}` | {doc} |\n"))
        .collect();
    format!("{keys}\n### Fields in what a cue says\n\n| field | filled with |\n|---|---|\n{fields}")
}
