//! A recording without the heart rate: what was measured of it and what tells of it is taken out of each file.
//!
//! Nothing is ridden again for it, since the brake answered to a heart that would then be missing: the load as it was set
//! stays, and with it whatever the ceiling made of it.

use toml::{Table as Toml, Value};

use super::{EventLine, Row, Table, decode, encode, encode_header};

/// The word by which everything that tells of it is known: it stands in each such key, role and event.
const HEART: &str = "heart";

fn tells(text: &str) -> bool {
    text.to_lowercase().contains(HEART)
}

/// `samples.csv` with nothing in the columns of the heart rate. Lines that cannot be read are left out.
pub fn samples(bytes: &[u8]) -> Vec<u8> {
    rewritten::<Row>(bytes, |mut row| {
        row.heart_rate = None;
        row.heart_rate_from = None;
        Some(row)
    })
}

/// `events.csv` without the events that tell of the heart or name one of `straps`.
pub fn events(bytes: &[u8], straps: &[String]) -> Vec<u8> {
    rewritten::<EventLine>(bytes, |mut event| {
        // A torn line is quoted, and may hold anything that was measured.
        if event.what == "recording-torn"
            && let Some(at) = event.detail.find(": ")
        {
            event.detail.truncate(at);
        }
        let named = straps
            .iter()
            .any(|strap| !strap.is_empty() && event.detail.contains(strap.as_str()));
        (!named && !tells(&event.what) && !tells(&event.detail)).then_some(event)
    })
}

fn rewritten<T: Table>(bytes: &[u8], change: impl Fn(T) -> Option<T>) -> Vec<u8> {
    let mut out = Vec::with_capacity(bytes.len());
    // Neither reading from memory nor writing to it can fail.
    let _ = encode_header::<T>(&mut out);
    let records = decode::<T>(bytes).map_or_else(|_| Vec::new(), |decoded| decoded.records);
    for record in records.into_iter().filter_map(change) {
        let _ = encode(&record, &mut out);
    }
    out
}

/// `ride.toml` or `rider.toml` without the keys, devices and words that tell of it; as it was where it is no TOML. Gives the
/// names and addresses of the straps that were taken out.
pub fn about(text: &str) -> (String, Vec<String>) {
    let mut straps = Vec::new();
    let Ok(mut table) = text.parse::<Toml>() else {
        return (String::new(), straps);
    };
    // An age stands in a rider's file for the sake of the heart alone.
    table.retain(|key, _| !tells(key) && key != "age");
    for (_, value) in table.iter_mut() {
        let Value::Array(list) = value else { continue };
        list.retain(|one| match one {
            Value::String(word) => !tells(word),
            Value::Table(device) => {
                let role = device.get("role").and_then(Value::as_str);
                let strap = role.is_some_and(tells);
                if strap {
                    let texts = ["name", "address"].map(|key| device.get(key));
                    straps.extend(
                        texts
                            .into_iter()
                            .flatten()
                            .filter_map(Value::as_str)
                            .map(str::to_owned),
                    );
                }
                !strap
            }
            _ => true,
        });
    }
    (toml::to_string(&table).unwrap_or_default(), straps)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_torn_line_is_not_quoted() {
        let kept = |what: &'static str, detail: &str| EventLine {
            ridden_s: 1.0,
            plan_s: 1.0,
            utc_ms: 0,
            what: what.into(),
            detail: detail.to_owned(),
        };
        let mut bytes = Vec::new();
        // Writing to memory cannot fail.
        let _ = encode_header::<EventLine>(&mut bytes);
        let torn = "samples.csv was cut off inside its last line, which was taken out of it: 9,9.000,124.5,89.0,146,29.4";
        for event in [
            kept("recording-torn", torn),
            kept("target", "146 W: as asked"),
        ] {
            let _ = encode(&event, &mut bytes);
        }
        let left = String::from_utf8_lossy(&events(&bytes, &[])).into_owned();
        assert!(
            left.contains("recording-torn,\"samples.csv was cut off"),
            "{left}"
        );
        assert!(
            left.contains("146 W: as asked") && !left.contains("89.0"),
            "{left}"
        );
    }

    #[test]
    fn what_tells_of_the_heart_goes_from_what_was_known() {
        let text = "name = \"A\"\nage = 40\nmax_heart_rate = 180\nunconfirmed = [\"threshold\", \"heart_rate_ceiling\"]\n\
            [[devices]]\nrole = \"trainer\"\nname = \"T\"\naddress = \"1\"\n\
            [[devices]]\nrole = \"second-heart\"\nname = \"Strap\"\naddress = \"2\"\n";
        let (left, straps) = about(text);
        assert_eq!(straps, ["Strap", "2"]);
        assert!(
            !tells(&left) && !left.contains("Strap") && !left.contains("40"),
            "{left}"
        );
        assert!(
            left.contains("threshold") && left.contains("\"T\""),
            "{left}"
        );
    }
}
