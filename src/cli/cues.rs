//! `stillroad cues` and `stillroad record-cue`: the leader's own recordings of a session's cues.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::sync::mpsc::sync_channel;
use std::time::Duration;

use clap::Args;

use crate::cue::recorded::{self, LONGEST, Recordable, bound, recordables};
use crate::plan::Plan;
use crate::sound::Microphone;
use crate::store::cue_recordings::{self, CueRecording};
use crate::store::{Places, text_file};
use crate::text::translated;
use crate::time::Span;

/// It is looked so often whether the time is up.
const LOOK: Duration = Duration::from_millis(20);

/// A microphone that has given nothing for so many looks gives nothing.
const DEAF_AFTER: u32 = 150;

/// Whatever happens, nobody listens longer than forty seconds.
const MOST_LOOKS: u32 = 2_000;

/// The options of a list of cues.
#[derive(Args, Clone, Debug)]
pub struct List {
    /// The session: a file, or the name of a built-in session or of one in your folder
    #[arg(value_name = "SESSION")]
    session: PathBuf,
}

/// The options of a recording.
#[derive(Args, Clone, Debug)]
pub struct Record {
    /// The session: a file, or the name of a built-in session or of one in your folder
    #[arg(value_name = "SESSION")]
    session: PathBuf,
    /// The cue's number, as `stillroad cues` lists it
    #[arg(value_name = "N")]
    number: usize,
    /// Record so many seconds; if left out until you press enter, thirty at most
    #[arg(long, value_name = "SECONDS", value_parser = clap::value_parser!(u64).range(1..=30))]
    seconds: Option<u64>,
    /// Make a recording that is there already anew
    #[arg(long)]
    replace: bool,
}

/// The folders in which recordings for a session may lie: beside its file, and beside the user's own sessions. The first is
/// where new ones go.
pub(super) fn beside(session: &Path) -> Vec<PathBuf> {
    let mut folders = Vec::new();
    if text_file::is_file(session) {
        // A bare file name lies in the folder that one stands in.
        let here = Path::new(".").join(session);
        folders.extend(here.parent().map(Path::to_owned));
    }
    folders.extend(Places::find().ok().map(|places| places.sessions));
    folders.dedup();
    folders
}

/// The recordings of a session, wherever they lie.
fn known(session: &Path, plan: &Plan) -> Result<Vec<CueRecording>, String> {
    let mut all = Vec::new();
    for folder in beside(session) {
        let listed = cue_recordings::list(&cue_recordings::folder(&folder, &plan.name));
        all.extend(listed.map_err(|error| error.to_string())?);
    }
    Ok(all)
}

/// Lists every cue once, with its recording.
///
/// # Errors
/// A sentence: what cannot be read.
pub fn list(options: &List) -> Result<String, String> {
    let (plan, _) = super::files::session(&options.session)?;
    let known = known(&options.session, &plan)?;
    let cues = recordables(&plan);
    let mut text = format!(
        "{}: {}.\n",
        plan.name,
        match cues.len() {
            1 => word!("1 cue").to_owned(),
            count => say!("{count} cues", count),
        }
    );
    for cue in &cues {
        text += &line(cue, &known);
    }
    let said = |one: &&CueRecording| {
        !cues
            .iter()
            .any(|cue| cue.fixed && bound(&cue.says) == one.bound)
    };
    // One that was fitted leaves cues out, and their words are what they were.
    let fitted = !crate::plan::fit::changes_of(&plan.source).is_empty();
    for left in known.iter().filter(|_| !fitted).filter(said) {
        text.push('\n');
        text += &say!(
            "No cue has the words of {file} any more, so it is not played: record the cue that took its place, or delete the \
             file if no other session of this name uses it.",
            file = left.path.display()
        );
    }
    Ok(text)
}

fn line(cue: &Recordable, known: &[CueRecording]) -> String {
    let wanted = bound(&cue.says);
    let found = known.iter().find(|one| cue.fixed && one.bound == wanted);
    let state = match found.map(|one| cue_recordings::load(&one.path)) {
        _ if !cue.fixed => word!("spoken: its figures change").to_owned(),
        None => word!("spoken").to_owned(),
        Some(Ok(samples)) => {
            say!(
                "recorded, {seconds:.1} s",
                seconds = samples.len() as f64 / f64::from(recorded::RATE)
            )
        }
        Some(Err(why)) => say!("spoken. {why}", why = translated(&why.to_string())),
    };
    let times = match cue.times {
        1 => String::new(),
        times => say!(", {times} times", times),
    };
    let speaker = cue.speaker.as_ref();
    let speaker = speaker.map_or_else(String::new, |speaker| format!("{speaker}: "));
    format!(
        "{:>3}  {:>7}{times}  {state}\n     {speaker}{}\n",
        cue.number,
        cue.due.to_string(),
        cue.says
    )
}

/// Records a cue and keeps it beside the session.
///
/// # Errors
/// A sentence: which cue there is not, why nothing could be heard or kept, and what to do.
pub fn record(options: &Record) -> Result<String, String> {
    let (plan, _) = super::files::session(&options.session)?;
    let cues = recordables(&plan);
    let Some(cue) = cues.iter().find(|cue| cue.number == options.number) else {
        return Err(say!(
            "{session} has {count} cues, so there is no cue {number}. `stillroad cues` lists them with their numbers.",
            session = plan.name,
            count = cues.len(),
            number = options.number
        ));
    };
    if !cue.fixed {
        return Err(say!(
            "Cue {number} says figures that change with the ride, so a recording would be wrong: it stays spoken. Write its \
             words without figures to record it.",
            number = cue.number
        ));
    }
    let wanted = bound(&cue.says);
    let there = known(&options.session, &plan)?;
    let there = there.into_iter().find(|one| one.bound == wanted);
    if let Some(there) = &there
        && !options.replace
    {
        return Err(say!(
            "Cue {number} has a recording already, {file}. --replace makes it anew.",
            number = cue.number,
            file = there.path.display()
        ));
    }
    if options.seconds.is_none() && !std::io::stdin().is_terminal() {
        return Err(
            word!("Nobody can press enter here: say with --seconds how long to record.").to_owned(),
        );
    }
    let path = match there {
        Some(there) => there.path,
        None => {
            let folder = beside(&options.session).into_iter().next().ok_or(word!(
                "There is no folder to keep the recording in. `stillroad where` says what is missing."
            ))?;
            cue_recordings::folder(&folder, &plan.name)
                .join(recorded::file_name(cue.number, &cue.says))
        }
    };
    let due = say!(
        "Cue {number}, at {due}:",
        number = cue.number,
        due = cue.due
    );
    super::print(&format!("{due}\n  {}", cue.says));
    let heard = listen(options.seconds)?;
    let samples = recorded::trimmed(&heard).ok_or(word!(
        "Nothing was heard: the microphone gave silence. Check that the right one is chosen in the system's sound settings \
         and that it is not muted. Nothing was kept."
    ))?;
    cue_recordings::save(&path, &samples).map_err(|error| error.to_string())?;
    let length = samples.len() as f64 / f64::from(recorded::RATE);
    Ok(say!(
        "Cue {number} is kept, {length:.1} s without the silence round it, in {file}. It is played in place of the voice as \
         long as its words stay the same.",
        number = cue.number,
        length,
        file = path.display()
    ))
}

/// What the microphone hears, for so many seconds or until enter is pressed.
fn listen(seconds: Option<u64>) -> Result<Vec<i16>, String> {
    let microphone = Microphone::open().map_err(|why| {
        say!(
            "There is no microphone here ({why}), so nothing was recorded. Start the sound server, or plug one in.",
            why = translated(&why.to_string())
        )
    })?;
    let rate = recorded::RATE as usize;
    let most = rate * seconds.unwrap_or(LONGEST.whole_seconds()) as usize;
    // Enter is pressed once at most, and nothing is sent after it.
    let (enter, entered) = sync_channel(1);
    match seconds {
        Some(seconds) => super::print(&say!(
            "Say it now: {time} are recorded.",
            time = Span::from_seconds(seconds)
        )),
        None => {
            super::print(word!(
                "Say it now, and press enter when it is said. Half a minute at most."
            ));
            std::thread::spawn(move || {
                let mut line = String::new();
                let read = std::io::stdin().read_line(&mut line);
                // Where the time was up before, nobody waits for it.
                enter.send(read.is_ok()).unwrap_or_default();
            });
        }
    }
    let (mut deaf, mut looks) = (0, 0);
    loop {
        std::thread::sleep(LOOK);
        let count = microphone.count();
        if count >= most || (seconds.is_none() && entered.try_recv().is_ok()) {
            let mut samples = microphone.samples();
            samples.truncate(most);
            return Ok(samples);
        }
        deaf = if count == 0 { deaf + 1 } else { 0 };
        looks += 1;
        if looks > MOST_LOOKS {
            // The server went away in the middle: what was heard is what there is.
            return Ok(microphone.samples());
        }
        if deaf > DEAF_AFTER {
            return Err(word!(
                "The microphone gives no sound at all, so nothing was recorded. Choose another in the system's sound \
                 settings."
            )
            .to_owned());
        }
    }
}
