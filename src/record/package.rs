//! `datapackage.json`: what the tables of a ride's folder hold, for any program that reads data packages.
//!
//! Source: Data Package specifications, version 1 (specs.frictionlessdata.io: Tabular Data Package, Table Schema). It is
//! made from the one table of each file's columns.

use serde_json::{Map, Value, json};

use super::cell::{Sort, write_time};
use super::{EventLine, InputLine, NoteLine, RideStart, Row, Table, encode_header};

/// The name of the file.
pub const FILE: &str = "datapackage.json";

/// Suffixes of columns, and the units that they stand for, as in the SI and in UCUM.
const UNITS: [(&str, &str); 8] = [
    ("_us", "us"),
    ("_s", "s"),
    ("_w", "W"),
    ("_rpm", "/min"),
    ("_bpm", "/min"),
    ("_kmh", "km/h"),
    ("_m", "m"),
    ("_j", "J"),
];

/// The text of `datapackage.json` for a ride that begins so.
pub fn write(start: &RideStart) -> String {
    of_tables(start, |_| true)
}

/// The same of those tables alone that are there with the columns of this program.
pub fn of_files<'a>(start: &RideStart, there: impl Fn(&str) -> Option<&'a [u8]>) -> String {
    of_tables(start, |(file, header)| {
        there(file).is_some_and(|bytes| bytes.starts_with(header))
    })
}

fn of_tables(start: &RideStart, wanted: impl Fn((&str, &[u8])) -> bool) -> String {
    let resources: Vec<Value> = [
        resource::<Row>(
            "One row a ridden second; none while the clock stands.",
            Some("ridden_s"),
        ),
        resource::<EventLine>("What happened in the ride and to its recording.", None),
        resource::<NoteLine>("Ratings and remarks.", None),
        resource::<InputLine>(
            "Every input of the program and every request to a device.",
            None,
        ),
    ]
    .into_iter()
    .filter_map(|(file, header, resource)| wanted((file, &header)).then_some(resource))
    .collect();
    let moment = write_time(start.utc_ms);
    let digits: String = moment
        .chars()
        .filter(char::is_ascii_digit)
        .take(14)
        .collect();
    let package = json!({
        "profile": "tabular-data-package",
        // Lower-case letters, digits and hyphens alone may stand in it.
        "name": format!("ride-{digits}"),
        "title": start.session,
        "description": "A ride: one row a ridden second, what happened, ratings and remarks, and the log from which it can be ridden again. Session, rider and what was known at the start stand in the TOML files beside this one.",
        "created": moment,
        "resources": resources,
    });
    // Texts, numbers and lists cannot fail to be written.
    let mut text = serde_json::to_string_pretty(&package).unwrap_or_default();
    text.push('\n');
    text
}

/// The name of a table's file, its header line, and what is told of it.
fn resource<T: Table>(says: &str, key: Option<&str>) -> (&'static str, Vec<u8>, Value) {
    let fields: Vec<Value> = T::COLUMNS
        .iter()
        .map(|column| field(column.name, column.sort, column.needed, column.says))
        .collect();
    let mut schema = json!({ "fields": fields, "missingValues": [""] });
    if let (Some(key), Some(schema)) = (key, schema.as_object_mut()) {
        schema.insert("primaryKey".to_owned(), json!(key));
    }
    let mut header = Vec::new();
    // Writing to memory cannot fail.
    let _ = encode_header::<T>(&mut header);
    let resource = json!({
        "profile": "tabular-data-resource",
        "name": T::FILE.trim_end_matches(".csv"),
        "path": T::FILE,
        "description": says,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": schema,
    });
    (T::FILE, header, resource)
}

fn field(name: &str, sort: Sort, needed: bool, says: &str) -> Value {
    let mut field = Map::new();
    let mut constraints = Map::new();
    field.insert("name".to_owned(), json!(name));
    field.insert("description".to_owned(), json!(says));
    let kind = match sort {
        Sort::Whole => {
            constraints.insert("minimum".to_owned(), json!(0));
            "integer"
        }
        Sort::Decimal(_) => "number",
        Sort::Time => {
            field.insert("format".to_owned(), json!("%Y-%m-%dT%H:%M:%S.%fZ"));
            "datetime"
        }
        Sort::Flag => {
            field.insert("trueValues".to_owned(), json!(["true"]));
            field.insert("falseValues".to_owned(), json!(["false"]));
            "boolean"
        }
        Sort::Word(words) => {
            constraints.insert("enum".to_owned(), json!(words));
            "string"
        }
        Sort::Text => "string",
    };
    field.insert("type".to_owned(), json!(kind));
    // The standard has no word for a unit and allows others: readers that do not know it pass over it.
    if let Some((_, unit)) = UNITS.iter().find(|(suffix, _)| name.ends_with(suffix)) {
        field.insert("unit".to_owned(), json!(unit));
    }
    if needed {
        constraints.insert("required".to_owned(), json!(true));
    }
    if !constraints.is_empty() {
        field.insert("constraints".to_owned(), Value::Object(constraints));
    }
    Value::Object(field)
}
