//! Opening the window: what can be chosen is read from the disk, the engine starts, and the two are put together.

use std::sync::{Arc, OnceLock};

use egui_system_font_provider::SystemFontProvider;

use super::{App, Files, LeftFiles, Ride, RideFiles, Shelf};
use crate::awake::Awake;
use crate::device::Backend;
use crate::device::fault::{Faults, Faulty};
use crate::device::practice::{Practice, PracticeConfig};
use crate::device::radio::Radio;
use crate::engine::drive::{Backends, Engine};
use crate::engine::{Command, Snapshot};
use crate::plan::{self, Problem};
use crate::rider::{self, Rider};
use crate::sound::Sound;
use crate::store::{Places, riders, sessions, settings as settings_file};
use crate::text::{self, Language};
use crate::time::Instant;
use crate::toml_table::Severity;
use crate::ui::fonts;
use crate::ui::settings::{self, Settings};

impl Ride for Engine {
    fn snapshot(&mut self) -> Arc<Snapshot> {
        Self::snapshot(self)
    }

    fn now(&self) -> Instant {
        self.clock().now()
    }

    fn command(&mut self, command: Command) {
        // A full queue means that the loop is stuck; a close gets through when the engine is dropped.
        let _taken = Self::command(self, command);
    }

    fn is_over(&self) -> bool {
        Self::is_over(self)
    }
}

/// Opens the window and stays in it until it is closed and the brake is let off. With `faults`, a seed, the practice
/// devices misbehave as radios do; real ones never. A `language` that is asked for counts in this run, whatever the
/// settings say.
///
/// # Errors
/// A sentence where there is no display, no place for rides, or no thread.
pub fn open(faults: Option<u64>, language: Option<Language>) -> Result<(), String> {
    // Until the settings are read the system's language is the best guess.
    Settings::default().speak(language);
    text::speak_to_the_reader();
    let places = Places::find().map_err(|error| told(&error))?;
    let (settings, troubles) = settings_of(&places, language);
    let shelf = shelf(&places);
    let desk = Files::new(places.clone());
    let sessions = Files::new(places.clone());
    let rides = RideFiles::new(places.rides.clone());
    let left = LeftFiles::new(places.rides.clone());
    let recordings = vec![places.sessions.clone()];
    let practised = shelf
        .riders
        .first()
        .map_or_else(Rider::default, |(_, rider)| (**rider).clone());
    let backends: Backends = Box::new(move |clock, waker| {
        let legs = PracticeConfig::for_rider(practised.threshold, practised.w_prime);
        let practice = Practice::new(legs.settling_in());
        let practice: Box<dyn Backend> = match faults {
            Some(seed) => Box::new(Faulty::new(Box::new(practice), Faults::of(seed))),
            None => Box::new(practice),
        };
        let radio = Radio::start(Arc::new(move || clock.now()), waker);
        let backends: Vec<Box<dyn Backend>> = vec![practice, Box::new(radio)];
        backends
    });
    let window: Arc<OnceLock<egui::Context>> = Arc::default();
    let redraw = {
        let window = Arc::clone(&window);
        Arc::new(move || {
            // With a delay one frame is drawn and not two, as egui does for a request without one.
            if let Some(window) = window.get() {
                window.request_repaint_after(std::time::Duration::from_millis(1));
            }
        })
    };
    let engine = Engine::start(places.rides, Some(places.memory), 1, backends, redraw)?;
    let close = engine.remote();
    // Without the handler a signal would end the program with the brake on; with it the core lets go first.
    ctrlc::set_handler(move || close(Command::Close)).map_err(|error| {
        say!(
            "The system refuses a handler for signals: {error}. Nothing was started.",
            error
        )
    })?;
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title("Stillroad")
            .with_app_id("stillroad")
            .with_inner_size([1280.0, 800.0])
            .with_min_inner_size([800.0, 600.0]),
        ..Default::default()
    };
    eframe::run_native(
        "stillroad",
        options,
        Box::new(move |cc| {
            drop(window.set(cc.egui_ctx.clone()));
            look_for_fonts(cc.egui_ctx.clone());
            let sound = Sound::start(&engine, settings.kinds, recordings);
            let app = App::new(cc, Box::new(engine), shelf, Box::new(desk))
                .with_settings(&cc.egui_ctx, settings, troubles)
                .speaking(language)
                .keeping_sessions(Box::new(sessions))
                .reading_rides(Box::new(rides))
                .offering_left_open(Box::new(left))
                .keeping_awake(Awake::new())
                .heard_by(sound)
                .showing_folders();
            Ok(Box::new(app))
        }),
    )
    .map_err(|error| {
        say!(
            "The window cannot be opened: {why}. Without a display ride on the command line: stillroad ride first-ride.",
            why = without_source_place(&error.to_string())
        )
    })
}

/// The window's library names a line of its own source before some reasons; a rider has no use for that.
fn without_source_place(reason: &str) -> &str {
    let after = reason.split_once(".rs:").map_or(reason, |(_, rest)| {
        rest.split_once(": ").map_or(rest, |(_, words)| words)
    });
    after.trim_end_matches('.')
}

/// Looks for the fonts of this computer on a thread of its own, and hands them to the window when they are known: the
/// start waits for nobody, and names in other scripts show their stand-ins until then. Where the thread cannot be
/// started they keep them.
fn look_for_fonts(window: egui::Context) {
    let look = move || {
        // Its first answer waits until everything is listed.
        fonts::add_source(&window, Arc::new(SystemFontProvider::new()));
    };
    drop(
        std::thread::Builder::new()
            .name("fonts".to_owned())
            .spawn(look),
    );
}

/// What is told of something that went wrong, in the reader's words.
fn told(error: &impl ToString) -> String {
    text::translated(&error.to_string()).into_owned()
}

/// The window's settings, and what is wrong with their file, a sentence each. From here on the language is spoken that they
/// name, unless another is asked for.
fn settings_of(places: &Places, asked: Option<Language>) -> (Settings, Vec<String>) {
    match settings_file::load(&places.settings) {
        Ok(text) => {
            // Read once for the language, so that what is wrong is told in it.
            settings::read(&text).0.speak(asked);
            let (settings, problems) = settings::read(&text);
            let mut troubles: Vec<String> = problems
                .iter()
                .map(|problem| say!("The settings: {problem}", problem))
                .collect();
            if !troubles.is_empty() {
                troubles.push(
                    word!("What is wrong in the file of settings is left out when they are next saved here.").to_owned(),
                );
            }
            (settings, troubles)
        }
        Err(error) => {
            let trouble = say!(
                "{error} The settings stand as at first.",
                error = told(&error)
            );
            (Settings::default(), vec![trouble])
        }
    }
}

/// Everything that can be chosen: the built-in sessions, the user's own, and the riders.
fn shelf(places: &Places) -> Shelf {
    let mut shelf = Shelf::default();
    match sessions::list(plan::builtin(), &places.sessions) {
        Ok(texts) => {
            for session in texts {
                match session.text {
                    Ok(text) => add_session(&mut shelf, session.key, &text),
                    Err(error) => shelf.troubles.push(told(&error)),
                }
            }
        }
        Err(error) => {
            shelf.troubles.push(told(&error));
            for (key, text) in plan::builtin() {
                add_session(&mut shelf, (*key).to_owned(), text);
            }
        }
    }
    match riders::list(&places.riders) {
        Ok(files) => {
            for file in files {
                match riders::load(&file.path) {
                    Ok(text) => {
                        let (rider, problems) = rider::read(&text);
                        match rider {
                            Some(rider) => shelf.riders.push((Some(file.key), Arc::new(rider))),
                            None => {
                                let first = problems
                                    .iter()
                                    .find(|problem| problem.severity == Severity::Error);
                                let why = first.map_or_else(String::new, ToString::to_string);
                                shelf.troubles.push(say!(
                                    "The rider {key} cannot be used: {why}",
                                    key = file.key,
                                    why
                                ));
                            }
                        }
                    }
                    Err(error) => shelf.troubles.push(told(&error)),
                }
            }
        }
        Err(error) => shelf.troubles.push(told(&error)),
    }
    if shelf.riders.is_empty() {
        shelf.riders.push((None, Arc::new(Rider::default())));
    }
    shelf
}

fn add_session(shelf: &mut Shelf, key: String, text: &str) {
    let reading = plan::read(text);
    match reading.plan {
        Some(plan) => shelf.sessions.push((key, Arc::new(plan))),
        None => {
            let trouble = session_trouble(&key, &reading.problems);
            shelf.troubles.push(trouble);
        }
    }
}

/// What is said of a session that cannot be ridden; without its problems how that begins.
pub(super) fn session_trouble(key: &str, problems: &[Problem]) -> String {
    let about = say!("The session {key} cannot be used: ", key);
    let first = problems
        .iter()
        .find(|problem| problem.severity == Severity::Error);
    match first {
        Some(first) => about + &say!("{first} Mend it where sessions are written.", first),
        None => about,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_is_told_without_a_place_in_the_source() {
        // As winit 0.30 words it where there is no display.
        let reason = "winit EventLoopError: os error at /a/winit/src/platform_impl/linux/mod.rs:765: neither \
                      WAYLAND_DISPLAY nor WAYLAND_SOCKET nor DISPLAY is set.";
        assert_eq!(
            without_source_place(reason),
            "neither WAYLAND_DISPLAY nor WAYLAND_SOCKET nor DISPLAY is set"
        );
        assert_eq!(without_source_place("no OpenGL here"), "no OpenGL here");
    }
}
