//! `stillroad decode UUID HEX`: a characteristic's fields as JSON, or which field is short.

use serde_json::{Value, json};

use crate::gatt::{DecodeError, DescribeError, Uuid16, describe};

/// The longest value that a characteristic can have, in octets (Bluetooth Core Specification, Vol 3, Part F, 3.2.9).
const MOST_OCTETS: usize = 512;

/// What follows the 16 bits of a number assigned by the Bluetooth SIG in its long form (Core Specification, Vol 3,
/// Part B, 2.5.1).
const BASE: &str = "00001000800000805f9b34fb";

/// The fields of a value as indented JSON with the units in the names.
///
/// `uuid` has four digits, or all 32 of the Bluetooth SIG's long form, with or without hyphens. `hex` may have spaces,
/// colons, commas, hyphens and `0x` in it, and digits in either case. The Fitness Machine service itself (1826) stands
/// for its service data in an advertisement. Octets at the end that no field takes stand as `unread_hex`.
///
/// # Errors
/// A sentence: what is not hexadecimal, which characteristics are known, or which field is short.
pub fn decode(uuid: &str, hex: &str) -> Result<String, String> {
    let uuid = parse_uuid(uuid)?;
    let bytes = parse_hex(hex)?;
    let mut fields = describe(uuid, &bytes).map_err(|error| refusal(&error))?;
    let unread = unread(uuid, &bytes, &fields);
    if !unread.is_empty() {
        let hex: String = unread.iter().map(|octet| format!("{octet:02x}")).collect();
        fields["unread_hex"] = json!(hex);
    }
    Ok(format!("{fields:#}"))
}

/// The octets at the end that say nothing: without them every field is the same.
fn unread<'a>(uuid: Uuid16, bytes: &'a [u8], fields: &Value) -> &'a [u8] {
    let taken = (0..bytes.len())
        .find(|&taken| describe(uuid, &bytes[..taken]).is_ok_and(|shorter| shorter == *fields));
    &bytes[taken.unwrap_or(bytes.len())..]
}

/// Why a value cannot be read, for somebody who holds its octets. What a ride makes of it does not matter here.
fn refusal(error: &DescribeError) -> String {
    match *error {
        DescribeError::Decode(DecodeError::Short {
            characteristic,
            field,
            needed,
            had,
        }) => {
            let plural = field == "flags" || field.ends_with("features") || field.ends_with("bits");
            match (plural, needed) {
                (true, 1) => say!(
                    "{characteristic} is cut short: its {field} need 1 octet in all, {had} came.",
                    characteristic,
                    field,
                    had
                ),
                (true, _) => say!(
                    "{characteristic} is cut short: its {field} need {needed} octets in all, {had} came.",
                    characteristic,
                    field,
                    needed,
                    had
                ),
                (false, 1) => say!(
                    "{characteristic} is cut short: its {field} needs 1 octet in all, {had} came.",
                    characteristic,
                    field,
                    had
                ),
                (false, _) => say!(
                    "{characteristic} is cut short: its {field} needs {needed} octets in all, {had} came.",
                    characteristic,
                    field,
                    needed,
                    had
                ),
            }
        }
        DescribeError::Decode(DecodeError::Unexpected {
            characteristic,
            field,
            found,
        }) => {
            say!(
                "{characteristic} has {found} as its {field}, which cannot stand there.",
                characteristic,
                found = format!("{found:#04X}"),
                field
            )
        }
        DescribeError::Unknown(_) => error.to_string(),
    }
}

fn parse_uuid(text: &str) -> Result<Uuid16, String> {
    let plain: String = text
        .trim()
        .to_ascii_lowercase()
        .trim_start_matches("0x")
        .chars()
        .filter(|&c| c != '-')
        .collect();
    let short = match plain.len() {
        4 => Some(plain.as_str()),
        32 if plain.ends_with(BASE) => plain.strip_prefix("0000").and_then(|rest| rest.get(..4)),
        _ => None,
    };
    short
        .filter(|digits| digits.chars().all(|c| c.is_ascii_hexdigit()))
        .and_then(|digits| u16::from_str_radix(digits, 16).ok())
        .map(Uuid16)
        .ok_or_else(|| {
            say!(
                "'{text}' names no characteristic of the Bluetooth SIG. Give its four hexadecimal digits, as 2AD2, or \
                 the long form, as 00002ad2-0000-1000-8000-00805f9b34fb.",
                text = shown(text)
            )
        })
}

fn parse_hex(text: &str) -> Result<Vec<u8>, String> {
    let lower = text.to_ascii_lowercase();
    let mut digits = Vec::new();
    // A `0x` begins a number only where no digit stands before it in the same word.
    for word in lower.split(|c: char| c.is_whitespace() || matches!(c, ',' | ':' | '-')) {
        let word = word.strip_prefix("0x").unwrap_or(word);
        for c in word.chars() {
            match c.to_digit(16) {
                // A hexadecimal digit is under 16, so the cast loses nothing.
                Some(digit) => digits.push(digit as u8),
                None => {
                    return Err(say!(
                        "'{letter}' is not a hexadecimal digit. Give the value's octets in order, as 4400990cb500fd00.",
                        letter = c
                    ));
                }
            }
        }
    }
    if digits.len() % 2 == 1 {
        return Err(say!(
            "{count} hexadecimal digits are not whole octets: one digit is missing or too many. Each octet has two.",
            count = digits.len()
        ));
    }
    if digits.len() / 2 > MOST_OCTETS {
        return Err(say!(
            "{count} octets are more than a characteristic can have, which is {most}. Give one value at a time.",
            count = digits.len() / 2,
            most = MOST_OCTETS
        ));
    }
    Ok(digits
        .chunks_exact(2)
        .map(|pair| pair[0] << 4 | pair[1])
        .collect())
}

/// A stranger's text made safe and short enough for an error.
fn shown(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(60)
        .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]

    use super::*;

    fn fields(uuid: &str, hex: &str) -> Value {
        serde_json::from_str(&decode(uuid, hex).unwrap()).unwrap()
    }

    /// 32.25 km/h, 90.5 rpm, 253 W, 152 bpm by the field table of the Fitness Machine Service 1.0, 4.9.
    #[test]
    fn a_record_is_shown_with_its_units() {
        assert_eq!(
            fields("2AD2", "4402990cb500fd0098"),
            json!({
                "characteristic": "Indoor Bike Data",
                "more_data": false,
                "speed_kmh": 32.25,
                "cadence_rpm": 90.5,
                "power_w": 253,
                "heart_rate_bpm": 152,
            })
        );
        assert_eq!(
            fields("2ad9", "80130120033c0f"),
            json!({
                "characteristic": "Fitness Machine Control Point",
                "message": "response",
                "op": 0x13,
                "result": "success",
                "result_code": 1,
                "low_speed_kmh": 8.0,
                "high_speed_kmh": 39.0,
                "parameters_hex": "20033c0f",
            })
        );
        assert_eq!(
            fields("1826", "012000"),
            json!({
                "characteristic": "Fitness Machine service data",
                "available": true,
                "types": ["indoor bike"],
            })
        );
    }

    #[test]
    fn the_forms_in_which_people_write_octets_and_uuids() {
        let expected = fields("2AD2", "4400990cb500fd00");
        for hex in [
            "44 00 99 0C B5 00 FD 00",
            "0x4400990CB500FD00",
            "0x44 0x00 0x99 0x0c 0xb5 0x00 0xfd 0x00",
            "44:00:99:0c:b5:00:fd:00",
            "44-00-99-0C-B5-00-FD-00",
            " 4400,990c\tb500\nfd00 ",
        ] {
            assert_eq!(fields("2AD2", hex), expected, "{hex}");
        }
        for uuid in [
            "2ad2",
            "0x2AD2",
            " 2AD2 ",
            "00002ad2-0000-1000-8000-00805f9b34fb",
            "00002AD2-0000-1000-8000-00805F9B34FB",
            "00002ad200001000800000805f9b34fb",
        ] {
            assert_eq!(fields(uuid, "4400990cb500fd00"), expected, "{uuid}");
        }
    }

    /// The field table of the Fitness Machine Service 1.0, 4.9, has nothing after what the flags name; RR intervals of
    /// the Heart Rate Service 1.0, 3.1, have two octets each.
    #[test]
    fn octets_that_no_field_takes_are_shown() {
        assert_eq!(
            fields("2AD2", "4400990cb500fd00 0A0b")["unread_hex"],
            "0a0b"
        );
        assert_eq!(fields("2A37", "1048000401")["unread_hex"], "01");
        for (uuid, hex) in [
            ("2AD2", "4400990cb500fd00"),
            ("2A37", "10480004"),
            ("2A37", "104800040104"),
            ("2AD9", "80130120033c0f"),
            ("2A19", "00"),
        ] {
            assert_eq!(fields(uuid, hex).get("unread_hex"), None, "{uuid} {hex}");
        }
    }

    #[test]
    fn a_short_value_is_told_without_advice_on_the_device() {
        for (uuid, hex, says) in [
            (
                "2AD2",
                "44",
                "Indoor Bike Data is cut short: its flags need 2 octets in all, 1 came.",
            ),
            (
                "2AD2",
                "4400990cb500fa",
                "Indoor Bike Data is cut short: its instantaneous power needs 8 octets in all, 7 came.",
            ),
            (
                "2A19",
                "",
                "Battery Level is cut short: its battery level needs 1 octet in all, 0 came.",
            ),
        ] {
            assert_eq!(decode(uuid, hex).unwrap_err(), says);
        }
    }

    #[test]
    fn what_is_wrong_is_said() {
        for (uuid, hex, words) in [
            ("2AD2", "4400990cb500fa", "instantaneous power"),
            ("2AD2", "", "flags"),
            ("2A37", "16", "heart rate measurement value"),
            ("2A00", "00", "2AD2 (Indoor Bike Data)"),
            ("", "00", "four hexadecimal digits"),
            ("2AD", "00", "four hexadecimal digits"),
            ("+AD2", "00", "four hexadecimal digits"),
            ("2äd2", "00", "four hexadecimal digits"),
            (
                "00002ad2-0000-1000-8000-00805f9b34fc",
                "00",
                "four hexadecimal digits",
            ),
            (
                "12342ad2-0000-1000-8000-00805f9b34fb",
                "00",
                "four hexadecimal digits",
            ),
            ("2AD2", "44g0", "'g'"),
            ("2AD2", "440", "3 hexadecimal digits"),
            ("2AD2", "440x", "'x'"),
        ] {
            let error = decode(uuid, hex).unwrap_err();
            assert!(error.contains(words), "{uuid} {hex}: {error}");
            assert!(error.ends_with('.'), "{error}");
        }
        assert!(
            decode("2AD2", &"00".repeat(513))
                .unwrap_err()
                .contains("512")
        );
        assert!(decode(&"\u{1b}".repeat(500), "00").unwrap_err().len() < 300);
    }
}
