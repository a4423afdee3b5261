//! What the platform says went wrong, read back from its words.
//!
//! The client library hands the system's errors on as text. On Linux the texts are those of BlueZ's daemon (its
//! `gatt-client.c` turns ATT error codes into D-Bus errors: some keep their number, the common ones become a name and a
//! phrase) and of D-Bus. The debug form is read because it carries the error's name beside its message:
//! `Other(DbusError(D-Bus error: Operation failed with ATT error: 0x80 (org.bluez.Error.Failed)))`.

use crate::device::{Adapter, Failure};

/// ATT error codes that BlueZ words instead of numbering (Core Specification, volume 3, part F, 3.4.1.1).
const WORDED: [(&str, u8); 9] = [
    ("Read not permitted", 0x02),
    ("Write not permitted", 0x03),
    ("org.bluez.Error.NotSupported", 0x06),
    ("Invalid offset", 0x07),
    ("org.bluez.Error.InvalidOffset", 0x07),
    ("org.bluez.Error.NotAuthorized", 0x08),
    ("Invalid Length", 0x0D),
    ("org.bluez.Error.InvalidValueLength", 0x0D),
    // Not from the device: the daemon itself still runs an earlier operation on this characteristic. It means the same
    // to whoever asked, "procedure already in progress" (Core Specification Supplement, part B).
    ("org.bluez.Error.InProgress", 0xFE),
];

/// Texts that mean that the link, or the object that stood for the device, is gone.
const GONE: [&str; 9] = [
    "org.bluez.Error.NotConnected",
    "Not connected",
    "le-connection-",
    "org.freedesktop.DBus.Error.UnknownObject",
    "org.freedesktop.DBus.Error.UnknownMethod",
    "org.freedesktop.DBus.Error.UnknownInterface",
    "org.freedesktop.DBus.Error.ServiceUnknown",
    "org.freedesktop.DBus.Error.NameHasNoOwner",
    "disconnected from message bus without replying",
];

const UNPAIRED: &str = entry!(
    "The device asks to be paired first: pair it in the system's Bluetooth settings, then try again."
);
const REFUSED: &str = entry!(
    "The system does not let this program use Bluetooth: allow it in the system's settings, or ask whoever looks \
     after this computer."
);

/// What an operation's error means.
pub(super) fn failure(error: &btleplug::Error) -> Failure {
    use btleplug::Error;
    match error {
        Error::PermissionDenied => Failure::Forbidden(REFUSED.to_owned()),
        Error::DeviceNotFound | Error::NoSuchCharacteristic => Failure::NotFound,
        Error::NotConnected => Failure::LinkLost,
        Error::TimedOut(_) => Failure::TimedOut,
        other => failure_in(&format!("{other:?}"), &other.to_string()),
    }
}

/// What a text means: `debug` carries the name of the error as well, `words` is what a person would be shown.
fn failure_in(debug: &str, words: &str) -> Failure {
    if let Some(code) = numbered(debug) {
        return Failure::Att(code);
    }
    if debug.contains("Not paired") || debug.contains("Not Paired") {
        return Failure::Forbidden(UNPAIRED.to_owned());
    }
    if debug.contains("org.freedesktop.DBus.Error.AccessDenied") {
        return Failure::Forbidden(REFUSED.to_owned());
    }
    if GONE.iter().any(|text| debug.contains(text)) {
        return Failure::LinkLost;
    }
    if let Some((_, code)) = WORDED.iter().find(|(text, _)| debug.contains(text)) {
        return Failure::Att(*code);
    }
    let late = [
        "org.freedesktop.DBus.Error.NoReply",
        "org.freedesktop.DBus.Error.Timeout",
        "ServiceDiscoveryTimedOut",
    ];
    if late.iter().any(|text| debug.contains(text)) {
        return Failure::TimedOut;
    }
    let words = if words.trim().is_empty() {
        debug
    } else {
        words
    };
    Failure::Other(words.chars().take(200).collect())
}

/// The code in "ATT error: 0x80".
fn numbered(text: &str) -> Option<u8> {
    let (_, after) = text.split_once("ATT error: 0x")?;
    let digits: String = after.chars().take_while(char::is_ascii_hexdigit).collect();
    u8::from_str_radix(&digits, 16).ok()
}

/// What the state of the computer's Bluetooth is when asking for it failed.
pub(super) fn trouble(error: &btleplug::Error) -> Adapter {
    match error {
        btleplug::Error::PermissionDenied => Adapter::Forbidden(REFUSED.to_owned()),
        btleplug::Error::NoAdapterAvailable => no_adapter(),
        other => trouble_in(&format!("{other:?}")),
    }
}

fn trouble_in(debug: &str) -> Adapter {
    let has = |texts: &[&str]| texts.iter().any(|text| debug.contains(text));
    if has(&["Error.AccessDenied", "Error.AuthFailed", "NotPermitted"]) {
        Adapter::Forbidden(REFUSED.to_owned())
    } else if has(&["Error.NotReady", "Error.Blocked", "adapter-not-powered"]) {
        switched_off()
    } else if has(&["UnknownObject", "NoSuchAdapter"]) {
        no_adapter()
    } else if has(&[
        "ServiceUnknown",
        "NameHasNoOwner",
        "Error.Spawn",
        "disconnected from message bus without replying",
    ]) {
        Adapter::Missing(
            entry!(
                "The system's Bluetooth service does not run, so no device can be reached: start it (on most Linux \
                 systems, `systemctl start bluetooth`); the program finds it by itself."
            )
                .to_owned(),
        )
    } else if has(&[
        "FileNotFound",
        "NoServer",
        "Error.Disconnected",
        "Failed to connect to socket",
        "BadAddress",
    ]) {
        Adapter::Missing(
            entry!(
                "The system's message bus cannot be reached, so no Bluetooth device can be either: it belongs to \
                 every desktop system; in a container it has to be passed in."
            )
                .to_owned(),
        )
    } else {
        Adapter::Missing(kept!(
            "Bluetooth does not answer, so no device can be reached ({words}): switch it off and on again.",
            words = debug.chars().take(200).collect::<String>()
        ))
    }
}

/// There is no adapter.
pub(super) fn no_adapter() -> Adapter {
    Adapter::Missing(
        entry!(
            "This computer has no Bluetooth adapter that the system knows, so no device can be reached: plug one in; \
             the program finds it by itself."
        )
            .to_owned(),
    )
}

/// The adapter is switched off.
pub(super) fn switched_off() -> Adapter {
    Adapter::Off(
        entry!(
            "Bluetooth is switched off, so no device can be reached: switch it on in the system's settings; the \
             program notices by itself."
        )
            .to_owned(),
    )
}

/// The system did not answer within seconds.
pub(super) fn unanswered() -> Adapter {
    Adapter::Missing(
        entry!(
            "The system's Bluetooth service does not answer, so no device can be reached: switch Bluetooth off and on \
             again; the program notices by itself."
        )
            .to_owned(),
    )
}

/// Whether an attempt to listen failed only because another one is just being started, this program's or another's.
pub(super) fn already_listening(error: &btleplug::Error) -> bool {
    let debug = format!("{error:?}");
    debug.contains("org.bluez.Error.InProgress") || debug.contains("already in progress")
}

/// Whether the connection to the message bus itself is gone and has to be made anew.
pub(super) fn bus_lost(error: &btleplug::Error) -> bool {
    let debug = format!("{error:?}");
    debug.contains("org.freedesktop.DBus.Error.Disconnected")
        || debug.contains("Connection is closed")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As the client library prints a D-Bus error: message, then name.
    fn read(message: &str, name: &str) -> Failure {
        failure_in(
            &format!("Other(DbusError(D-Bus error: {message} ({name})))"),
            message,
        )
    }

    #[test]
    fn att_codes_are_read_from_their_number_or_their_phrase() {
        // Messages and names as the strings of BlueZ 5.66's daemon give them.
        let cases = [
            (
                "Operation failed with ATT error: 0x80",
                "org.bluez.Error.Failed",
                0x80,
            ),
            (
                "Operation failed with ATT error: 0xfd",
                "org.bluez.Error.Failed",
                0xFD,
            ),
            (
                "Operation failed with ATT error: 0xfe",
                "org.bluez.Error.Failed",
                0xFE,
            ),
            (
                "Operation failed with ATT error: 0x0e",
                "org.bluez.Error.Failed",
                0x0E,
            ),
            ("Read not permitted", "org.bluez.Error.NotPermitted", 0x02),
            ("Write not permitted", "org.bluez.Error.NotPermitted", 0x03),
            (
                "Operation is not supported",
                "org.bluez.Error.NotSupported",
                0x06,
            ),
            ("Invalid offset", "org.bluez.Error.InvalidOffset", 0x07),
            (
                "Operation Not Authorized",
                "org.bluez.Error.NotAuthorized",
                0x08,
            ),
            ("Invalid Length", "org.bluez.Error.InvalidArguments", 0x0D),
            ("In Progress", "org.bluez.Error.InProgress", 0xFE),
            (
                "Operation already in progress",
                "org.bluez.Error.InProgress",
                0xFE,
            ),
        ];
        for (message, name, code) in cases {
            assert_eq!(read(message, name), Failure::Att(code), "{message}");
        }
    }

    #[test]
    fn a_number_that_is_no_octet_is_not_taken_for_one() {
        for message in [
            "Operation failed with ATT error: 0x",
            "Operation failed with ATT error: 0x1ff",
            "Operation failed with ATT error: 0xzz",
        ] {
            assert_eq!(
                read(message, "org.bluez.Error.Failed"),
                Failure::Other(message.to_owned())
            );
        }
    }

    #[test]
    fn lost_links_are_told_from_slow_answers() {
        for (message, name) in [
            ("Not connected", "org.bluez.Error.Failed"),
            ("Not Connected", "org.bluez.Error.NotConnected"),
            ("le-connection-abort-by-local", "org.bluez.Error.Failed"),
            (
                "Method \"WriteValue\" with signature \"aya{sv}\" on interface \"org.bluez.GattCharacteristic1\" doesn't \
                 exist",
                "org.freedesktop.DBus.Error.UnknownMethod",
            ),
            (
                "The name org.bluez was not provided by any .service files",
                "org.freedesktop.DBus.Error.ServiceUnknown",
            ),
            (
                "Message recipient disconnected from message bus without replying",
                "org.freedesktop.DBus.Error.NoReply",
            ),
        ] {
            assert_eq!(read(message, name), Failure::LinkLost, "{message}");
        }
        assert_eq!(
            read(
                "Did not receive a reply. Possible causes include: the remote application did not send a reply",
                "org.freedesktop.DBus.Error.NoReply"
            ),
            Failure::TimedOut
        );
        assert_eq!(
            failure_in(
                "Other(ServiceDiscoveryTimedOut)",
                "Service discovery timed out"
            ),
            Failure::TimedOut
        );
    }

    #[test]
    fn pairing_and_permission_are_sentences_that_say_what_to_do() {
        for (message, name, what_to_do) in [
            ("Not paired", "org.bluez.Error.NotPermitted", "pair it"),
            (
                "Rejected send message",
                "org.freedesktop.DBus.Error.AccessDenied",
                "allow it",
            ),
        ] {
            match read(message, name) {
                Failure::Forbidden(sentence) => {
                    assert!(sentence.contains(what_to_do), "{sentence}")
                }
                other => panic!("{message} gave {other:?}"),
            }
        }
    }

    #[test]
    fn anything_else_keeps_the_platform_s_words_within_a_bound() {
        assert_eq!(
            read("Something new", "org.bluez.Error.Failed"),
            Failure::Other("Something new".to_owned())
        );
        let long = "x".repeat(5000);
        match read(&long, "org.bluez.Error.Failed") {
            Failure::Other(words) => assert_eq!(words.len(), 200),
            other => panic!("{other:?}"),
        }
        assert_eq!(
            failure_in("Other(Odd)", " "),
            Failure::Other("Other(Odd)".to_owned())
        );
    }

    #[test]
    fn the_library_s_own_errors_keep_their_meaning() {
        use btleplug::Error;
        assert_eq!(failure(&Error::DeviceNotFound), Failure::NotFound);
        assert_eq!(failure(&Error::NotConnected), Failure::LinkLost);
        assert_eq!(
            failure(&Error::TimedOut(std::time::Duration::from_secs(1))),
            Failure::TimedOut
        );
        assert!(matches!(
            failure(&Error::PermissionDenied),
            Failure::Forbidden(_)
        ));
    }

    #[test]
    fn the_adapter_s_troubles_are_told_apart() {
        let told = |message: &str, name: &str| {
            trouble_in(&format!(
                "Other(DbusError(D-Bus error: {message} ({name})))"
            ))
        };
        let service = told(
            "The name org.bluez was not provided by any .service files",
            "org.freedesktop.DBus.Error.ServiceUnknown",
        );
        let died = told(
            "Message recipient disconnected from message bus without replying",
            "org.freedesktop.DBus.Error.NoReply",
        );
        assert_eq!(died, service);
        let bus = told(
            "Failed to connect to socket /run/dbus/system_bus_socket: No such file or directory",
            "org.freedesktop.DBus.Error.FileNotFound",
        );
        let adapter = told(
            "No such object path",
            "org.freedesktop.DBus.Error.UnknownObject",
        );
        assert!(matches!(&service, Adapter::Missing(s) if s.contains("service does not run")));
        assert!(matches!(&bus, Adapter::Missing(s) if s.contains("message bus")));
        assert_eq!(adapter, no_adapter());
        assert_eq!(
            told("Resource Not Ready", "org.bluez.Error.NotReady"),
            switched_off()
        );
        assert!(matches!(
            told("Rejected", "org.freedesktop.DBus.Error.AccessDenied"),
            Adapter::Forbidden(_)
        ));
        assert!(
            matches!(told("What", "org.example.New"), Adapter::Missing(s) if s.contains("What"))
        );
    }
}
