//! The words in the sources: what the macros of `text` mark, and what goes past them. The source is read as the compiler's
//! own tokens; tests beside the code are passed over.

use std::collections::BTreeSet;

use proc_macro2::{Delimiter, Group, Literal, TokenStream, TokenTree};

/// Words that a macro marks, or that are marked by standing where they stand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Marked {
    /// The macro, or `error` for the words of an error's type.
    pub by: String,
    /// The English, with what stands after `#`.
    pub key: String,
    pub line: usize,
    /// The names that are listed after the words.
    pub listed: BTreeSet<String>,
}

/// What a file says.
#[derive(Debug, Default)]
pub struct Said {
    pub marked: Vec<Marked>,
    /// Literals that no macro marks, with their lines.
    pub bare: Vec<(usize, String)>,
}

const MARKS: [&str; 4] = ["word", "say", "entry", "kept"];

/// Macros and calls whose words nobody reads who rides: for whoever looks for a fault in the program, and names of files.
const FOR_NO_READER: [&str; 20] = [
    "trace",
    "debug",
    "info",
    "warn",
    "error",
    "span",
    "assert",
    "assert_eq",
    "assert_ne",
    "debug_assert",
    "debug_assert_eq",
    "debug_assert_ne",
    "unreachable",
    "panic",
    "include_str",
    "include_bytes",
    "env",
    "concat",
    "expect",
    "expect_err",
];

/// Everything that a source says.
///
/// # Panics
/// Where it is no Rust.
pub fn said(source: &str) -> Said {
    let tokens: TokenStream = source.parse().expect("source that is no Rust");
    let mut said = Said::default();
    walk(tokens, &mut said);
    said
}

fn walk(tokens: TokenStream, said: &mut Said) {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    let mut at = 0;
    while let Some(token) = tokens.get(at) {
        at += 1;
        match token {
            TokenTree::Punct(mark) if mark.as_char() == '#' => {
                // An inner attribute has a mark between.
                if matches!(tokens.get(at), Some(TokenTree::Punct(mark)) if mark.as_char() == '!') {
                    at += 1;
                }
                let Some(TokenTree::Group(group)) = tokens.get(at) else {
                    continue;
                };
                at += 1;
                if attribute(group, said) {
                    at = after_item(&tokens, at);
                }
            }
            TokenTree::Ident(name) => {
                let name = name.to_string();
                let called =
                    matches!(tokens.get(at), Some(TokenTree::Punct(mark)) if mark.as_char() == '!');
                let group = tokens.get(at + usize::from(called));
                let Some(TokenTree::Group(group)) = group else {
                    continue;
                };
                if called && MARKS.contains(&name.as_str()) {
                    at += 2;
                    mark(&name, group, said);
                } else if name == "macro_rules"
                    || FOR_NO_READER.contains(&name.as_str())
                        && (called || name.starts_with("expect"))
                {
                    at += 1 + usize::from(called);
                }
            }
            TokenTree::Group(group) => walk(group.stream(), said),
            TokenTree::Literal(literal) => {
                if let Some(text) = text(literal) {
                    said.bare.push((line(literal), text));
                }
            }
            TokenTree::Punct(_) => {}
        }
    }
}

fn line(literal: &Literal) -> usize {
    literal.span().start().line
}

/// The value of a literal that is a text.
fn text(literal: &Literal) -> Option<String> {
    match syn::Lit::new(literal.clone()) {
        syn::Lit::Str(text) => Some(text.value()),
        _ => None,
    }
}

/// Looks at an attribute. Whether the item after it is for tests alone.
fn attribute(group: &Group, said: &mut Said) -> bool {
    let inside: Vec<TokenTree> = group.stream().into_iter().collect();
    let [TokenTree::Ident(name), TokenTree::Group(arguments), ..] = &*inside else {
        return false;
    };
    if *name == "error"
        && let Some(TokenTree::Literal(literal)) = arguments.stream().into_iter().next()
        && let Some(key) = text(&literal)
    {
        let line = line(&literal);
        said.marked.push(Marked {
            by: "error".to_owned(),
            key,
            line,
            listed: BTreeSet::new(),
        });
    }
    *name == "cfg" && arguments.stream().to_string() == "test"
}

/// The place after the next item: its body in braces, or its semicolon.
fn after_item(tokens: &[TokenTree], from: usize) -> usize {
    for (place, token) in tokens.iter().enumerate().skip(from) {
        match token {
            TokenTree::Group(group) if group.delimiter() == Delimiter::Brace => return place + 1,
            TokenTree::Punct(mark) if mark.as_char() == ';' => return place + 1,
            _ => {}
        }
    }
    tokens.len()
}

/// One call of a macro: its words, the names that follow them, and whatever is said in their values.
fn mark(by: &str, group: &Group, said: &mut Said) {
    let mut tokens = group.stream().into_iter().peekable();
    let Some(TokenTree::Literal(first)) = tokens.next() else {
        return;
    };
    let Some(mut key) = text(&first) else { return };
    if matches!(tokens.peek(), Some(TokenTree::Punct(mark)) if mark.as_char() == '#') {
        tokens.next();
        if let Some(TokenTree::Literal(context)) = tokens.next() {
            key = format!("{key}#{}", text(&context).unwrap_or_default());
        }
    }
    let mut listed = BTreeSet::new();
    let rest: Vec<TokenTree> = tokens.collect();
    for pair in rest.windows(2) {
        if let [TokenTree::Punct(mark), TokenTree::Ident(name)] = pair
            && mark.as_char() == ','
        {
            listed.insert(name.to_string());
        }
    }
    let line = line(&first);
    said.marked.push(Marked {
        by: by.to_owned(),
        key,
        line,
        listed,
    });
    walk(rest.into_iter().collect(), said);
}

/// The names of the figures of a sentence; one without a name is `""`.
pub fn figures(sentence: &str) -> BTreeSet<String> {
    let plain = sentence.replace("{{", "").replace("}}", "");
    plain
        .split('{')
        .skip(1)
        .filter_map(|part| part.split_once('}'))
        .map(|(inside, _)| {
            inside
                .split(':')
                .next()
                .unwrap_or_default()
                .trim()
                .to_owned()
        })
        .collect()
}

/// Whether a sentence has letters beside its figures.
pub fn has_words(sentence: &str) -> bool {
    let mut figure = false;
    sentence.chars().any(|letter| {
        figure = (figure || letter == '{') && letter != '}';
        !figure && letter.is_alphabetic()
    })
}

/// Whether a literal reads like words: two of them beside each other, of two letters at least. Tags of pages are left out.
pub fn reads_like_words(text: &str) -> bool {
    let mut bare = String::new();
    let (mut tag, mut figure) = (false, false);
    for letter in text.chars() {
        match letter {
            '<' => tag = true,
            '>' if tag => {
                tag = false;
                bare.push(' ');
            }
            '{' => {
                figure = true;
                bare.push_str(" | ");
            }
            '}' if figure => figure = false,
            _ if tag || figure => {}
            letter => bare.push(letter),
        }
    }
    let words: Vec<bool> = bare
        .split_whitespace()
        .map(|part| part.trim_matches(|mark: char| !mark.is_alphanumeric()))
        .map(|part| {
            part.chars().count() >= 2
                && part
                    .chars()
                    .all(|letter| letter.is_alphabetic() || "'’-".contains(letter))
        })
        .collect();
    words.windows(2).any(|pair| pair == [true, true])
}
