//! What `--help` tells, in the language of the reader: every text of the commands looked up, and clap's own words with them.
//!
//! Clap writes its headings and what it adds to a help text in English, and gives no place for other words. So each command
//! has a template of its own here, and what would be added stands in the text already.

use clap::builder::StyledStr;
use clap::builder::styling::Style;
use clap::{Arg, Command};

use crate::text::translated;

/// The command and all below it in the language of this thread.
pub(super) fn told(mut command: Command) -> Command {
    // First, so that what clap adds by itself is there to be told: -h, -V and `help`.
    command.build();
    told_whole(command)
}

fn told_whole(command: Command) -> Command {
    let literal = *command.get_styles().get_literal();
    let mut command = command
        .mut_args(|arg| told_arg(arg, literal))
        .mut_subcommands(told_whole);
    if command.has_subcommands() {
        command = command.subcommand_value_name(word!("COMMAND"));
    }
    if let Some(about) = command.get_about().map(own) {
        command = command.about(about);
    }
    if let Some(about) = command.get_long_about().map(own_paragraphs) {
        command = command.long_about(about);
    }
    let template = template(&mut command);
    command.help_template(template)
}

/// How the help of a command is laid out: as clap lays it out, with our headings.
fn template(command: &mut Command) -> String {
    let usage = command.render_usage().ansi().to_string();
    let usage =
        usage
            .replacen("Usage:", word!("Usage:"), 1)
            .replacen("[OPTIONS]", word!("[OPTIONS]"), 1);
    let header = *command.get_styles().get_header();
    let shown = |positional: bool| {
        let mut arguments = command.get_arguments();
        arguments.any(|arg| arg.is_positional() == positional && !arg.is_hide_set())
    };
    let mut parts = vec![format!("{{before-help}}{{about-with-newline}}\n{usage}")];
    if command.has_subcommands() {
        let heading = word!("Commands:");
        parts.push(format!("{header}{heading}{header:#}\n{{subcommands}}"));
    }
    if shown(true) {
        let heading = word!("Arguments:");
        parts.push(format!("{header}{heading}{header:#}\n{{positionals}}"));
    }
    if shown(false) {
        let heading = word!("Options:");
        parts.push(format!("{header}{heading}{header:#}\n{{options}}"));
    }
    parts.join("\n\n") + "{after-help}"
}

fn told_arg(arg: Arg, literal: Style) -> Arg {
    let Some(help) = arg.get_help().map(own) else {
        return arg;
    };
    let long = arg.get_long_help().map(own_paragraphs);
    let names: Vec<&'static str> = arg
        .get_value_names()
        .filter(|_| arg.get_action().takes_values())
        .unwrap_or_default()
        .iter()
        // Help is told once a run, at its end.
        .map(|name| &*own_text(name).leak())
        .collect();
    let added = Added::of(&arg);
    let mut arg = arg
        .help([vec![help.clone()], added.short()].concat().join(" "))
        .hide_default_value(true)
        .hide_possible_values(true);
    if long.is_some() || !added.is_empty() {
        arg = arg.long_help(
            [vec![long.unwrap_or(help)], added.long(literal)]
                .concat()
                .join("\n\n"),
        );
    }
    if names.is_empty() {
        arg
    } else {
        arg.value_names(names)
    }
}

/// What clap adds to the help of an argument.
struct Added {
    /// What stands where nothing is given.
    default: Option<String>,
    /// The values that can be, each with what it means.
    values: Vec<(String, Option<String>)>,
}

impl Added {
    fn of(arg: &Arg) -> Self {
        let takes = arg.get_action().takes_values();
        let defaults: Vec<_> = arg
            .get_default_values()
            .iter()
            .filter(|_| takes && !arg.is_hide_default_value_set())
            .map(|value| value.to_string_lossy())
            .collect();
        let values = arg
            .get_possible_values()
            .into_iter()
            .filter(|value| takes && !arg.is_hide_possible_values_set() && !value.is_hide_set())
            .map(|value| (value.get_name().to_owned(), value.get_help().map(own)));
        Self {
            default: (!defaults.is_empty()).then(|| defaults.join(" ")),
            values: values.collect(),
        }
    }

    fn is_empty(&self) -> bool {
        self.default.is_none() && self.values.is_empty()
    }

    fn default_words(&self) -> Option<String> {
        let value = self.default.as_ref()?;
        Some(say!("[default: {value}]", value))
    }

    fn values_words(&self) -> Option<String> {
        let names: Vec<_> = self.values.iter().map(|(name, _)| name.as_str()).collect();
        let values = names.join(", ");
        (!names.is_empty()).then(|| say!("[possible values: {values}]", values))
    }

    /// In a line, after the help.
    fn short(&self) -> Vec<String> {
        self.default_words()
            .into_iter()
            .chain(self.values_words())
            .collect()
    }

    /// In paragraphs, with what each value means where that is told of any.
    fn long(&self, literal: Style) -> Vec<String> {
        if self.values.iter().all(|(_, help)| help.is_none()) {
            let added = self.short();
            return if added.is_empty() {
                added
            } else {
                vec![added.join("\n")]
            };
        }
        let longest = self
            .values
            .iter()
            .map(|(name, _)| name.chars().count())
            .max();
        let longest = longest.unwrap_or_default();
        let mut list = word!("Possible values:").to_owned();
        for (name, help) in &self.values {
            list += &format!("\n- {literal}{name}{literal:#}");
            if let Some(help) = help {
                let padding = longest - name.chars().count();
                list += &format!(": {:padding$}{help}", "");
            }
        }
        let mut paragraphs = vec![list];
        paragraphs.extend(self.default_words());
        paragraphs
    }
}

fn own(text: &StyledStr) -> String {
    own_text(&text.to_string())
}

/// A text of some paragraphs, each of which is an entry.
fn own_paragraphs(text: &StyledStr) -> String {
    let text = text.to_string();
    let paragraphs: Vec<_> = text.split("\n\n").map(own_text).collect();
    paragraphs.join("\n\n")
}

fn own_text(english: &str) -> String {
    translated(english).into_owned()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::collections::BTreeSet;

    use clap::CommandFactory;

    use super::*;
    use crate::cli::Arguments;
    use crate::text::{self, Language, entries};

    fn all(mut command: Command) -> Vec<Command> {
        command.build();
        let mut commands = vec![command];
        let mut next = 0;
        while let Some(command) = commands.get(next) {
            let below: Vec<_> = command.get_subcommands().cloned().collect();
            commands.extend(below);
            next += 1;
        }
        commands
    }

    /// Every text of the commands and their arguments, as it is looked up.
    fn texts() -> BTreeSet<String> {
        let mut texts = BTreeSet::new();
        let mut add = |text: Option<&StyledStr>| {
            let text = text.map(ToString::to_string).unwrap_or_default();
            texts.extend(text.split("\n\n").map(str::to_owned));
        };
        let mut names = BTreeSet::new();
        for command in all(Arguments::command()) {
            add(command.get_about());
            add(command.get_long_about());
            for arg in command.get_arguments() {
                add(arg.get_help());
                add(arg.get_long_help());
                for value in arg.get_possible_values() {
                    add(value.get_help());
                }
                if arg.get_action().takes_values() {
                    let values = arg.get_value_names().unwrap_or_default();
                    names.extend(values.iter().map(ToString::to_string));
                }
            }
        }
        texts.remove("");
        texts.extend(names);
        texts
    }

    #[test]
    fn every_help_text_has_its_german() {
        let entries = entries(Language::German).unwrap();
        let known: BTreeSet<_> = entries.iter().map(|entry| entry.english).collect();
        let texts = texts();
        assert!(texts.len() > 100, "{}", texts.len());
        let missing: Vec<_> = texts
            .iter()
            .filter(|text| !known.contains(text.as_str()))
            .collect();
        assert!(missing.is_empty(), "{missing:#?}");
    }

    /// In English our layout is clap's own but for blanks at a line's end: so it is in every language.
    #[test]
    fn english_help_is_what_it_was() {
        let (before, after) = (all(Arguments::command()), all(told(Arguments::command())));
        assert_eq!(before.len(), after.len());
        for (mut before, mut after) in before.into_iter().zip(after) {
            let shown = |text: StyledStr| {
                let text = text.ansi().to_string();
                text.lines()
                    .map(str::trim_end)
                    .collect::<Vec<_>>()
                    .join("\n")
            };
            assert_eq!(shown(after.render_help()), shown(before.render_help()));
            assert_eq!(
                shown(after.render_long_help()),
                shown(before.render_long_help())
            );
        }
    }

    #[test]
    fn german_help_has_german_words() {
        let mut command = text::within(Language::German, || told(Arguments::command()));
        let help = command.render_long_help().to_string();
        for english in ["Usage:", "Commands:", "Options:", "[OPTIONS]", "Print"] {
            assert!(!help.contains(english), "{english} in {help}");
        }
    }
}
