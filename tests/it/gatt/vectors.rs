//! Every field of some nine hundred values, as decoded by `bluetooth-sig` 0.6.0, `bumble` 0.0.236 and a decoder driven
//! by the Bluetooth SIG's GATT Specification Supplement. `tests/oracles/gatt_vectors.py` makes the file and says where
//! those differ.

use serde::Deserialize;
use serde_json::{Map, Value};
use stillroad::gatt::{DescribeError, Uuid16, describe};

use super::octets;

#[derive(Deserialize)]
struct File {
    vectors: Vec<Vector>,
}

#[derive(Deserialize)]
struct Vector {
    uuid: String,
    hex: String,
    ends: Vec<(String, usize)>,
    fields: Map<String, Value>,
}

impl Vector {
    fn uuid(&self) -> Uuid16 {
        Uuid16(u16::from_str_radix(&self.uuid, 16).unwrap())
    }
}

fn all() -> Vec<Vector> {
    let file: File = serde_json::from_str(include_str!("../../data/gatt_vectors.json")).unwrap();
    file.vectors
}

fn same(ours: &Value, theirs: &Value) -> bool {
    match (ours, theirs) {
        (Value::Number(ours), Value::Number(theirs)) => {
            (ours.as_f64().unwrap() - theirs.as_f64().unwrap()).abs() < 1e-9
        }
        (Value::Array(ours), Value::Array(theirs)) => {
            ours.len() == theirs.len()
                && ours.iter().zip(theirs).all(|(one, other)| same(one, other))
        }
        _ => ours == theirs,
    }
}

#[test]
fn every_field_is_what_other_decoders_make_of_it() {
    let vectors = all();
    assert!(vectors.len() > 800, "only {} vectors", vectors.len());
    let mut compared = 0;
    for vector in &vectors {
        let ours = describe(vector.uuid(), &octets(&vector.hex)).unwrap();
        for (key, theirs) in &vector.fields {
            compared += 1;
            let found = ours.get(key).unwrap_or(&Value::Null);
            assert!(
                same(found, theirs),
                "{} {}: {key} is {found} here and {theirs} there",
                vector.uuid,
                vector.hex
            );
        }
    }
    assert!(compared > 9000, "only {compared} fields compared");
}

#[test]
fn every_cut_of_every_value_names_the_field_that_is_short() {
    let mut cuts = 0;
    for vector in all() {
        let whole = octets(&vector.hex);
        for length in 0..whole.len() {
            let short = vector.ends.iter().find(|(_, end)| *end > length);
            let Some((field, needed)) = short else {
                // Lists, texts and codes whose parameters the other decoders do not know.
                continue;
            };
            let wide = is_wide(&vector, whole.len());
            if wide && length == narrow_length(&vector, whole.len()) {
                // One cut of the wide form is a whole value of the narrow form; nothing in the octets tells.
                continue;
            }
            cuts += 1;
            let found = describe(vector.uuid(), &whole[..length]);
            let Err(DescribeError::Decode(error)) = found else {
                panic!(
                    "{} {} cut to {length} octets gave {found:?}",
                    vector.uuid, vector.hex
                );
            };
            if wide {
                // A cut wide form is taken for a cut narrow one, so only the fact of the cut is certain.
                continue;
            }
            assert_eq!(
                error.field(),
                field,
                "{} {} cut to {length}",
                vector.uuid,
                vector.hex
            );
            let words = error.to_string();
            assert!(
                words.contains(&format!("needs {needed} octets"))
                    && words.contains(&format!("{length} came")),
                "{words}"
            );
        }
    }
    assert!(cuts > 8000, "only {cuts} cuts");
}

/// Whether a value has its resistance level in two octets, as in 2017.
fn is_wide(vector: &Vector, whole: usize) -> bool {
    match vector.uuid.as_str() {
        "2AD6" => whole == 6,
        "2AD2" => vector
            .ends
            .windows(2)
            .any(|pair| pair[1].0 == "resistance level" && pair[1].1 - pair[0].1 == 2),
        _ => false,
    }
}

/// The length of the same value with its resistance level in one octet.
fn narrow_length(vector: &Vector, whole: usize) -> usize {
    if vector.uuid == "2AD6" { 3 } else { whole - 1 }
}
