//! Each rule of words broken once: a checker that lets any of these pass is broken itself.

use stillroad::text::Entry;

use super::faults;
use super::sources::{figures, reads_like_words, said};

fn found(source: &str, german: &[(&'static str, &'static str)]) -> Vec<String> {
    let entries: Vec<Entry> = german
        .iter()
        .map(|&(english, own)| Entry {
            file: "planted.toml",
            english,
            own,
        })
        .collect();
    faults(&[("src/planted.rs".to_owned(), said(source))], &entries)
}

fn is_caught(source: &str, german: &[(&'static str, &'static str)], says: &str) {
    let wrong = found(source, german);
    assert!(
        wrong.iter().any(|fault| fault.contains(says)),
        "{source}: {wrong:?}"
    );
}

#[test]
fn right_words_pass() {
    let source = r##"
        #![allow(dead_code)]
        /// Some words of a comment.
        #[derive(Debug, thiserror::Error)]
        #[error("no file {path}")]
        struct NoFile { path: String }
        const NAME: &str = entry!("Brake off");
        fn f(x: f64, y: Option<f64>) -> String {
            tracing::info!("words for nobody");
            y.expect("words that prove it");
            say!("{x:.0} W of {most}", x, most = word!("left" # "of a time"))
        }
        fn g(x: u8) -> String { kept!("Mark {x} of {}", 1); kept!("Mark {x} set") }
        fn id() -> &'static str { "a-name" }
        #[cfg(test)]
        mod tests { fn f() -> &'static str { "words of a test" } }
    "##
    .replace(r#"kept!("Mark {x} of {}", 1); "#, "");
    let german = [
        ("no file {path}", "keine Datei {path}"),
        ("Brake off", "Bremse gelöst"),
        ("{x:.0} W of {most}", "{x} von {most} W"),
        ("left#of a time", "noch"),
        ("Mark {x} set", "Marke {x}"),
    ];
    assert_eq!(found(&source, &german), Vec::<String>::new());
}

#[test]
fn each_fault_is_caught() {
    is_caught(r#"fn f() { word!("Brake off"); }"#, &[], "has no German");
    is_caught(
        r#"fn f() { g(&[word!("Brake off")]); }"#,
        &[],
        "has no German",
    );
    is_caught(
        r#"fn f() { say!("{x}", x = word!("Brake off")); }"#,
        &[("{x}", "{x}")],
        "has no German",
    );
    is_caught(
        r#"fn f() { word!("left" # "side"); }"#,
        &[("left", "noch")],
        "has no German",
    );
    is_caught(r#"#[error("no file")] struct E;"#, &[], "has no German");
    is_caught("fn f() {}", &[("Brake off", "Bremse")], "nobody says");
    is_caught("fn f() {}", &[("{a} W", "{b} W")], "other figures");
    is_caught("fn f() {}", &[("Brake off", " ")], "has no words");
    is_caught("fn f() {}", &[("Brake off", "Brake off")], "the same");
    is_caught("fn f() {}", &[("One", "Eins"), ("One", "Ein")], "as well");
    is_caught(
        r#"fn f() { say!("{a} and {b}", a); }"#,
        &[("{a} and {b}", "{a}, {b}")],
        "list its figures",
    );
    is_caught(r#"fn f() { say!("{} and", a); }"#, &[], "list its figures");
    is_caught(r#"fn f() { kept!("of {}", a); }"#, &[], "list its figures");
    is_caught(r#"fn f() { word!("of {a}"); }"#, &[], "list its figures");
    is_caught(
        r#"fn f() { kept!("of {a:?}"); }"#,
        &[],
        "as the program holds it",
    );
    for bare in [
        r#"fn f() { g("Brake off"); }"#,
        r#"fn f() { format!("Brake off {x}"); }"#,
        r#"const A: &str = "Brake off";"#,
        r##"const A: &str = r#"Brake off"#;"##,
        r#"fn f() { say!("{x}", x = "Brake off"); }"#,
        r#"#[cfg(test)] mod tests {} fn f() { g("Brake off"); }"#,
        r#"#[cfg(unix)] fn f() { g("Brake off"); }"#,
        r#"fn f() { g("<p>Brake off</p>"); }"#,
    ] {
        is_caught(bare, &[("{x}", "{x}")], "marked by no macro");
    }
}

#[test]
fn names_of_figures_are_read() {
    let names = |sentence: &str| figures(sentence).into_iter().collect::<Vec<_>>();
    assert_eq!(names("{a:.0} of {b} {{c}} {}"), ["", "a", "b"]);
    assert!(names("none").is_empty());
}

#[test]
fn words_are_told_from_names() {
    for words in [
        "Brake off",
        "the load, then",
        "Brake off.",
        "at least 4 of the rest",
    ] {
        assert!(reads_like_words(words), "{words}");
    }
    for names in [
        "brake-off",
        "a b c",
        "{name} {other}",
        "power_w,cadence_rpm",
        "%Y-%m-%d",
        "<a href=\"x\">",
        "W",
        "12 W",
    ] {
        assert!(!reads_like_words(names), "{names}");
    }
}
