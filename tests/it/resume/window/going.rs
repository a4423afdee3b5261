//! What a ride that goes on does with its devices, and what it leaves alone.

use stillroad::device::practice::{Script, SpinDownManner};
use stillroad::device::{Advertisement, Event, Request};
use stillroad::gatt::MachineAdvertisement;
use stillroad::gatt::uuid16::FITNESS_MACHINE;

use super::*;
use crate::world::{Fake, Knobs};

fn models() -> Tapped {
    tap(Practice::new(PracticeConfig::default()))
}

fn heard(fake: &Fake) -> Input {
    Input::Device(Event::Heard(Advertisement {
        device: fake.id(),
        name: Some("Rig".into()),
        services: vec![FITNESS_MACHINE],
        machine_data: Some(MachineAdvertisement::indoor_bike(true).encode()),
        rssi: Some(-60),
        simulated: false,
    }))
}

impl Program {
    /// The trainer in use.
    fn trainer(&self) -> Option<DeviceId> {
        let snapshot = self.world.borrow().snapshot();
        let mut rows = snapshot.devices.iter();
        let used = rows.find(|row| row.used_for.contains(&Role::Trainer));
        used.map(|row| row.id.clone())
    }

    fn has(&self, label: &str) -> bool {
        self.harness.query_by_label(label).is_some()
    }

    fn taken_up(&self) -> bool {
        self.world.borrow().snapshot().taken_up.is_some()
    }

    /// The uses that were told since this was last asked.
    fn uses(&self) -> Vec<Command> {
        let told = self.told.take();
        let uses = told.into_iter();
        uses.filter(|told| matches!(told, Command::Use(..)))
            .collect()
    }
}

#[test]
fn a_trainer_that_is_up_is_not_set_up_anew() {
    let home = tempfile::tempdir().unwrap();
    killed(home.path(), 30.0, &[]);
    let mut program = Program::started(&home.path().join("rides"));
    let trainer = DeviceId::new(practice::TRAINER);
    let chosen = Command::Use(Role::Trainer, Some(trainer.clone()));
    program.world.borrow_mut().command(chosen);
    program.to(8.0);
    assert_eq!(program.mode(), Mode::Ready);
    let asked = |program: &Program| {
        let requests = program.world.borrow().requests();
        requests
            .into_iter()
            .filter(|(_, request)| {
                request.device() == Some(&trainer) && !matches!(request, Request::Write(..))
            })
            .count()
    };
    let before = asked(&program);
    program.press(Key::O);
    program.press(Key::Enter);
    program.to(12.0);
    assert!(program.taken_up());
    assert_eq!(asked(&program), before);
    let heart = DeviceId::new(practice::HEART);
    assert_eq!(program.uses(), [Command::Use(Role::Heart, Some(heart))]);
    assert_eq!(program.mode(), Mode::Ready);
}

#[test]
fn a_second_press_of_enter_answers_nothing_that_comes_after() {
    let home = tempfile::tempdir().unwrap();
    killed(home.path(), 30.0, &[]);
    let mut program = Program::started(&home.path().join("rides"));
    let trainer = DeviceId::new(practice::TRAINER);
    program
        .world
        .borrow_mut()
        .command(Command::Use(Role::Trainer, Some(trainer)));
    program.to(8.0);
    program.press(Key::O);
    program.press(Key::Enter);
    assert!(program.has("I have read this"));
    program.press(Key::Enter);
    assert!(program.has("I have read this"), "unread");
    program.pass(1.0);
    program.press(Key::Enter);
    assert!(!program.has("I have read this"));
}

#[test]
fn a_spin_down_is_finished_first() {
    let home = tempfile::tempdir().unwrap();
    killed(home.path(), 30.0, &[]);
    let mut config = PracticeConfig::default().scripted(Script::ride(88.0));
    config.trainer.spin_down = SpinDownManner::Works;
    let devices = vec![tap(Practice::new(config))];
    let mut program = Program::started_with(&home.path().join("rides"), devices, None);
    let trainer = DeviceId::new(practice::TRAINER);
    program
        .world
        .borrow_mut()
        .command(Command::Use(Role::Trainer, Some(trainer)));
    program.to(8.0);
    program.world.borrow_mut().command(Command::SpinDown);
    program.pass(1.0);
    program.press(Key::O);
    program.click("Go on with it");
    let said = program.value("Refused");
    assert!(said.contains("spin-down"), "{said}");
    assert!(!program.taken_up());
    let guide = |program: &Program| {
        let snapshot = program.world.borrow().snapshot();
        let guide = snapshot.spin_down.guide.as_ref();
        guide.map(|guide| guide.stage.is_over())
    };
    assert_eq!(guide(&program), Some(false), "it goes on");
    program.world.borrow_mut().command(Command::LeaveSpinDown);
    program.pass(1.0);
    program.click("Try again");
    assert!(program.taken_up());
}

#[test]
fn a_ride_that_begins_at_that_moment_keeps_its_devices() {
    let home = tempfile::tempdir().unwrap();
    killed(home.path(), 30.0, &[]);
    let mut program = Program::started(&home.path().join("rides"));
    let trainer = DeviceId::new(practice::TRAINER);
    program
        .world
        .borrow_mut()
        .command(Command::Use(Role::Trainer, Some(trainer)));
    program.to(8.0);
    program.press(Key::O);
    program.told.take();
    // It was armed, and the pedals turned before the core heard of the other ride.
    program.starts.set(true);
    program.click("Go on with it");
    program.pass(5.0);
    assert!(program.mode().under_way());
    assert!(!program.taken_up());
    let told = program.told.take();
    assert!(
        told.iter()
            .all(|told| !matches!(told, Command::Use(..) | Command::Scan(_))),
        "{told:?}"
    );
}

#[test]
fn a_practice_ride_goes_on_on_a_practice_trainer_only() {
    let home = tempfile::tempdir().unwrap();
    killed(home.path(), 30.0, &[]);
    let rig = Fake::new(Knobs::default());
    let devices = vec![models(), tap(rig.clone())];
    let mut program = Program::started_with(&home.path().join("rides"), devices, None);
    program.world.borrow_mut().input(heard(&rig));
    program.pass(1.0);
    assert!(program.has("Use Rig as trainer"));
    program.press(Key::O);
    program.click("Go on with it");
    program.to(8.0);
    assert_eq!(program.trainer(), Some(DeviceId::new(practice::TRAINER)));
    program.world.borrow_mut().input(heard(&rig));
    program.click("I have read this");
    assert!(program.has("Ready to ride"));
    assert!(!program.has("Use Rig as trainer"));
    // Without one, too, it is not offered.
    let none = Command::Use(Role::Trainer, None);
    program.world.borrow_mut().command(none);
    program.pass(1.0);
    assert!(!program.has("Use Rig"));
    assert!(program.has("Use the practice trainer (simulated)"));
}

#[test]
fn a_brake_that_was_left_held_is_let_go_before_the_ride_s_own_trainer_is_taken() {
    let home = tempfile::tempdir().unwrap();
    killed(home.path(), 30.0, &[]);
    let rig = Fake::new(Knobs::default());
    let memory = || {
        Some(Memory {
            control_held: vec![rig.id().to_string()],
            ..Memory::default()
        })
    };
    let started = || {
        let devices = vec![models(), tap(rig.clone())];
        let mut program = Program::started_with(&home.path().join("rides"), devices, memory());
        program.press(Key::O);
        program.click("Go on with it");
        program.to(6.0);
        program
    };
    let held = |program: &Program| {
        let world = program.world.borrow();
        let memory = world.world.remembered();
        memory.is_none_or(|memory| !memory.control_held.is_empty())
    };
    let trainer = DeviceId::new(practice::TRAINER);
    let mut program = started();
    let told = program.value("Going on");
    assert!(told.contains("may hold its load"), "{told}");
    let heart = DeviceId::new(practice::HEART);
    assert_eq!(program.uses(), [Command::Use(Role::Heart, Some(heart))]);
    assert!(held(&program));
    // It is heard late, and let go all the same.
    program.world.borrow_mut().input(heard(&rig));
    program.pass(4.0);
    assert!(!held(&program));
    program.pass(4.0);
    assert_eq!(program.trainer(), Some(trainer.clone()));
    assert!(!program.value("Going on").contains("may hold"));
    // Who does not wait for it chooses by hand, and that counts.
    rig.drop_link(Instant::ZERO);
    let mut program = started();
    program.uses();
    program.click("Use Practice trainer as trainer");
    program.pass(4.0);
    let chosen = Command::Use(Role::Trainer, Some(trainer));
    assert_eq!(program.uses(), [chosen]);
    assert!(!program.value("Going on").contains("may hold"));
}
