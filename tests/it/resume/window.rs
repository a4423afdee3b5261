//! The same by the window's road: its offer is pressed, the core behind it rides, and the recording goes on.

use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::sync::Arc;
use std::sync::mpsc::sync_channel;

use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::app::{App, LeftAnswer, LeftAsk, LeftFiles, LeftRides, Ride as Behind};
use stillroad::engine::Snapshot;
use stillroad::engine::input::Input;
use stillroad::memory::Memory;
use stillroad::ride::Mode;
use stillroad::time::Instant;

use super::*;
use crate::ui::hand::Drawer;
use crate::ui::prepare_states::first;
use crate::world::{EPOCH_MS, Tapped};

mod going;

/// From the kill to the second program, milliseconds.
const STOOD_MS: i64 = 600_000;

/// A world behind the window.
#[derive(Clone)]
struct World {
    ride: Rc<RefCell<Ride>>,
    /// What was told, in order.
    told: Rc<RefCell<Vec<Command>>>,
    /// The armed start comes about just before the next command is heard.
    starts: Rc<Cell<bool>>,
}

impl Behind for World {
    fn snapshot(&mut self) -> Arc<Snapshot> {
        self.ride.borrow().snapshot()
    }

    fn now(&self) -> Instant {
        self.ride.borrow().now()
    }

    fn command(&mut self, command: Command) {
        let mut ride = self.ride.borrow_mut();
        if self.starts.take() {
            ride.command(Command::Start);
        }
        self.told.borrow_mut().push(command.clone());
        ride.command(command);
    }
}

/// The files of this computer, each answer waited for: the window's own thread reads them.
struct Waited(LeftFiles);

impl LeftRides for Waited {
    fn ask(&mut self, ask: LeftAsk, _done: Arc<dyn Fn() + Send + Sync>) {
        let (sender, receiver) = sync_channel(1);
        let done = Arc::new(move || sender.send(()).unwrap());
        self.0.ask(ask, done);
        receiver.recv().unwrap();
    }

    fn take(&mut self) -> Option<LeftAnswer> {
        self.0.take()
    }
}

struct Program {
    harness: Harness<'static, App>,
    world: Rc<RefCell<Ride>>,
    told: Rc<RefCell<Vec<Command>>>,
    starts: Rc<Cell<bool>>,
}

impl Program {
    /// Started anew over these rides, so long after the one before.
    fn started(rides: &Path) -> Self {
        let practice = vec![tap(Practice::new(PracticeConfig::default()))];
        Self::started_with(rides, practice, None)
    }

    /// The same with these devices in reach, and with what earlier runs left.
    fn started_with(rides: &Path, devices: Vec<Tapped>, memory: Option<Memory>) -> Self {
        let mut ride = Ride::begun(EPOCH_MS + STOOD_MS, devices);
        if let Some(memory) = memory {
            ride.input(Input::Remembered(Box::new(memory)));
        }
        let world = Rc::new(RefCell::new(ride));
        let (told, starts) = (Rc::default(), Rc::default());
        let behind = World {
            ride: Rc::clone(&world),
            told: Rc::clone(&told),
            starts: Rc::clone(&starts),
        };
        let left = Waited(LeftFiles::new(rides.to_owned()));
        let harness = Harness::builder()
            .with_size(egui::vec2(1280.0, 800.0))
            .build_eframe(move |cc| {
                App::new(cc, Box::new(behind), first(), Box::new(Drawer::default()))
                    .offering_left_open(Box::new(left))
            });
        let mut program = Self {
            harness,
            world,
            told,
            starts,
        };
        program.to(2.0);
        program
    }

    /// On to a second, seen by the window on the way.
    fn to(&mut self, seconds: f64) {
        self.world.borrow_mut().to(seconds);
        self.harness.run_steps(3);
    }

    /// So many seconds more.
    fn pass(&mut self, seconds: f64) {
        self.world.borrow_mut().pass(seconds);
        self.harness.run_steps(3);
    }

    fn press(&mut self, key: Key) {
        self.harness.key_press(key);
        self.harness.run_steps(3);
    }

    fn click(&mut self, label: &str) {
        self.harness.get_by_label(label).click();
        self.harness.run_steps(3);
    }

    fn value(&self, label: &str) -> String {
        let node = self.harness.query_by_label(label);
        node.and_then(|node| node.accesskit_node().value())
            .unwrap_or_default()
    }

    fn offers(&self) -> bool {
        self.value("Hint").contains("left open")
    }

    fn mode(&self) -> Mode {
        self.world.borrow().mode()
    }
}

#[test]
fn a_killed_ride_goes_on_by_the_window_in_its_own_recording() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 83.4, &[(20.0, Command::Trim(3))]);
    let before = read_ride(&folder).unwrap();
    let mut program = Program::started(&home.path().join("rides"));
    assert!(program.offers(), "{}", program.value("Hint"));
    program.press(Key::O);
    let told = program.value("Left open");
    // 83 s of 230 s, from the world's wall clock of 2026 and not today's.
    assert!(told.contains("1:23 ridden, 2:27 left."), "{told}");
    program.press(Key::Enter);
    let taken = program.world.borrow().snapshot().taken_up.clone().unwrap();
    assert_eq!(taken.ride, folder.file_name().unwrap().to_string_lossy());
    // The recorded devices come up, and nothing is asked of the brake before the start.
    program.to(8.0);
    assert_eq!(program.mode(), Mode::Ready);
    let snapshot = program.world.borrow().snapshot();
    for (id, role) in [
        (practice::TRAINER, Role::Trainer),
        (practice::HEART, Role::Heart),
    ] {
        let row = snapshot.devices.iter().find(|row| row.id.as_str() == id);
        assert!(row.unwrap().used_for.contains(&role), "{id}");
    }
    assert_eq!(program.world.borrow().rows().len(), 0);
    program.click("I have read this");
    let told = program.value("Going on");
    assert!(told.contains("1:23 ridden, 2:27 left."), "{told}");
    program.click("Ready to ride");
    let start = program.world.borrow().now();
    let mut ridden = {
        let mut world = program.world.borrow_mut();
        world.to_the_end(900.0);
        assert!(
            world
                .watts()
                .iter()
                .all(|(at, watts)| *at >= start || *watts <= 0),
            "a load before the start"
        );
        written(&world, &home.path().join("rides"))
    };
    assert!(ridden.finish());
    let whole = read_ride(&folder).unwrap();
    assert!(whole.problems.is_empty(), "{:?}", whole.problems);
    every_second_has_a_row(&whole, 230);
    assert_eq!(whole.rows[..83], before.rows[..]);
    assert_eq!(whole.finish.as_deref(), Some("completed"));
    assert_eq!((count(&whole, "start"), count(&whole, "taken-up")), (1, 1));
    // Ten minutes stood between, and the seconds of the second start.
    let gap = whole.rows[83].utc_ms - whole.rows[82].utc_ms;
    assert!((STOOD_MS - 100_000..STOOD_MS).contains(&gap), "{gap}");
    assert_eq!(fs::read_dir(home.path().join("rides")).unwrap().count(), 1);
    assert!(folder.join("raw-2.csv").is_file());
    replays(&folder);
    // Back in Prepare it is offered no more.
    program.harness.run_steps(3);
    program.press(Key::Backspace);
    program.press(Key::Enter);
    program.harness.run_steps(3);
    assert!(!program.offers(), "{}", program.value("Hint"));
}

#[test]
fn another_choice_lets_go_of_it_and_the_offer_stays() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 60.0, &[]);
    let before = fs::read(folder.join("samples.csv")).unwrap();
    let mut program = Program::started(&home.path().join("rides"));
    program.press(Key::O);
    program.press(Key::Enter);
    program.to(8.0);
    program.click("I have read this");
    program.click("Ride something else first");
    assert_eq!(program.world.borrow().snapshot().taken_up, None);
    assert!(program.offers());
    // What is ridden now is a recording of its own.
    program.world.borrow_mut().command(Command::Start);
    program.to(30.0);
    let mut own = written(&program.world.borrow(), &home.path().join("rides"));
    assert!(own.finish());
    assert_eq!(fs::read(folder.join("samples.csv")).unwrap(), before);
    assert_eq!(fs::read_dir(home.path().join("rides")).unwrap().count(), 2);
}

#[test]
fn closing_it_by_the_window_is_what_the_command_line_does() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 30.0, &[]);
    let mut program = Program::started(&home.path().join("rides"));
    program.press(Key::O);
    program.click("Close it");
    assert!(!program.offers());
    let closed = read_ride(&folder).unwrap();
    assert_eq!(closed.finish.as_deref(), Some("closed-later"));
    assert_eq!(closed.rows.len(), 30);
    assert!(program.world.borrow().snapshot().taken_up.is_none());
}

#[test]
fn what_another_program_did_meanwhile_is_said_and_nothing_is_lost() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 30.0, &[]);
    let rides = home.path().join("rides");
    // One that is ridden at this moment is not offered.
    let hold = RealDisk.hold(&folder).unwrap();
    assert!(!Program::started(&rides).offers());
    drop(hold);
    // One that begins to be ridden after it was offered is refused, and tried again.
    let mut program = Program::started(&rides);
    program.press(Key::O);
    let hold = RealDisk.hold(&folder).unwrap();
    program.press(Key::Enter);
    assert!(program.value("Refused").contains("another program"));
    assert_eq!(program.world.borrow().snapshot().taken_up, None);
    drop(hold);
    program.pass(1.0);
    program.press(Key::Enter);
    assert!(!program.offers(), "it was found to be held");
    // A folder that went is said too.
    let mut program = Program::started(&rides);
    program.press(Key::O);
    let aside = home.path().join("aside");
    fs::rename(&folder, &aside).unwrap();
    for answer in ["Go on with it", "Close it"] {
        let Some(button) = program.harness.query_by_label(answer) else {
            continue;
        };
        button.click();
        program.harness.run_steps(3);
        let said = program.value("Refused");
        assert!(said.contains("There is no ride.toml"), "{said}");
        program.pass(1.0);
    }
    fs::rename(&aside, &folder).unwrap();
    // One whose caps are torn away can be closed, and not ridden.
    let own = fs::read(folder.join("rider.toml")).unwrap();
    fs::write(folder.join("rider.toml"), "").unwrap();
    let mut program = Program::started(&rides);
    program.press(Key::O);
    assert!(program.value("Refused").contains("rider.toml is damaged"));
    assert!(program.harness.query_by_label("Go on with it").is_none());
    fs::write(folder.join("rider.toml"), own).unwrap();
    // One that was closed meanwhile.
    let mut program = Program::started(&rides);
    program.press(Key::O);
    left_open::close(&folder, 0).unwrap();
    let before = fs::read(folder.join("events.csv")).unwrap();
    program.press(Key::Enter);
    assert!(program.value("Refused").contains("was closed"));
    assert_eq!(fs::read(folder.join("events.csv")).unwrap(), before);
}
