//! A run in which some devices are outside the room and answer for themselves.
//!
//! An instant that meets a question without an answer is run again from its beginning when the
//! answer has come, with every answer it had before. So whoever asks may take all the time it
//! wants, in any way it wants, and the trace is that of a run with every device inside.
//!
//! Invariant: after [`Simulation::try_step`] has asked, the run stands where it stood before.

use std::mem;
use std::sync::Arc;

use device::{Fault, Illuminance, Note, Payload};
use room::{Clock, ControllerId, Device, Input, Origin, Plan, SourceId, SourceSettings, Stimulus};

use super::Simulation;
use super::given::Happening;
use crate::outside::{Answer, Asked, Effect, Outside, Question, addressee, owner, who};
use crate::{Full, Instant, Quality, Recorder, What};

impl Simulation<Full> {
    /// A room at the beginning of its run, with these devices outside it. It is run by
    /// [`Self::try_step`].
    #[must_use]
    pub fn with_outside(
        plan: Arc<Plan>,
        seed: u64,
        quality: impl Fn(SourceId, ControllerId) -> Quality,
        devices: impl IntoIterator<Item = Device>,
    ) -> Self {
        let mut simulation = Self::unstarted(plan, seed, quality);
        let outside = Outside::new(devices, simulation.room.slots());
        simulation.world.outside = Some(Box::new(outside));
        // Whatever the devices do as the run begins is put aside until the first instant runs.
        simulation.world.aside = true;
        simulation.room.start(&mut simulation.world);
        simulation.world.aside = false;
        let outside = simulation.world.outside.as_mut().expect("it was just made");
        outside.start = Some(mem::take(&mut outside.done));
        simulation
    }

    /// Runs the next instant at which something happens, if there is one through `limit`;
    /// otherwise `limit` becomes the present instant and the answer is `false`. What is given
    /// for an instant is given when every instant before it has run.
    ///
    /// # Errors
    ///
    /// With the question that a device outside has to answer first, by [`Self::answer`].
    pub fn try_step(&mut self, limit: Instant) -> Result<bool, Box<Question>> {
        let Some(instant) = self.upcoming(limit) else {
            self.world.now = self.world.now.max(limit);
            return Ok(false);
        };
        let before = self.world.outside.is_some().then(|| self.snapshot());
        if self.open {
            self.close();
        } else {
            self.world.now = instant;
            self.run_instant();
        }
        let (Some(before), Some(outside)) = (before, &mut self.world.outside) else {
            return Ok(true);
        };
        let Some(question) = outside.asked.take() else {
            outside.settle();
            return Ok(true);
        };
        let answers = mem::take(&mut outside.answers);
        self.restore(&before);
        if let Some(outside) = &mut self.world.outside {
            outside.answers = answers;
            outside.next = 0;
        }
        Err(question)
    }

    /// Answers the question that [`Self::try_step`] asked last.
    pub fn answer(&mut self, answer: Answer) {
        if let Some(outside) = &mut self.world.outside {
            outside.answers.push(answer);
        }
    }

    /// Gives for the instant `at` that a device outside is cut off, because this is wrong with
    /// it. It is then as a device without power.
    ///
    /// # Panics
    ///
    /// When `at` lies before [`Self::now`].
    pub fn cut_off(&mut self, at: Instant, device: Device, fault: Fault) {
        self.give(at, false, Happening::CutOff(device, fault));
    }

    /// Gives for the instant `at` that a device which was cut off is there again, as one whose
    /// power returns.
    ///
    /// # Panics
    ///
    /// When `at` lies before [`Self::now`].
    pub fn bring_back(&mut self, at: Instant, device: Device) {
        self.give(at, false, Happening::Return(device));
    }

    /// Gives for the instant `at` that a source outside sends a frame of its own accord. A frame
    /// that its kind does not send cuts it off.
    ///
    /// # Panics
    ///
    /// When `at` lies before [`Self::now`].
    pub fn speak(&mut self, at: Instant, source: SourceId, payload: Payload) {
        self.give(at, false, Happening::Speak(source, payload));
    }

    /// Why a device outside is cut off, if it is.
    #[must_use]
    pub fn cut(&self, device: Device) -> Option<Fault> {
        self.world.outside.as_ref()?.guest(device)?.cut
    }
}

impl<R: Recorder> Simulation<R> {
    /// The next instant that has to run, if it comes no later than `limit`.
    fn upcoming(&mut self, limit: Instant) -> Option<Instant> {
        let next = if self.open {
            self.world.now
        } else {
            let end = limit.after(device::Span::from_ms(1));
            let next = self.world.next();
            self.crossing(next.min(end)).unwrap_or(next)
        };
        (next <= limit).then_some(next)
    }

    /// The run begins: every device in its order, those outside by their answers.
    pub(super) fn begin_outside(&mut self) {
        let Some(outside) = &mut self.world.outside else {
            return;
        };
        let Some(start) = outside.start.take() else {
            return;
        };
        let plan = self.room.plan();
        let sources = (0..).zip(&plan.sources);
        let controllers = (0..).zip(&plan.controllers);
        let devices: Vec<Device> = (sources.map(|(id, _)| Device::Source(SourceId(id))))
            .chain(controllers.map(|(id, _)| Device::Controller(ControllerId(id))))
            .collect();
        for device in devices {
            let of_device =
                |effect: &&Effect| effect.begins(device, self.room.plan(), self.room.slots());
            let own: Vec<Effect> = start.iter().filter(of_device).copied().collect();
            let is_outside =
                (self.world.outside.as_ref()).is_some_and(|it| it.guest(device).is_some());
            if !is_outside {
                self.replay(&own);
                continue;
            }
            match self.ask(device, Asked::Start) {
                None => {}
                Some(Ok(effects)) => {
                    if let Some(outside) = &mut self.world.outside {
                        outside.done = own;
                    }
                    self.act(device, &effects);
                }
                Some(Err(fault)) => self.cut_now(device, fault),
            }
        }
    }

    /// Gives an input to whomever it is for.
    pub(super) fn handle_outside(&mut self, input: Input) {
        let device = addressee(&input, self.room.plan(), self.room.slots());
        let guest = device.and_then(|device| self.world.outside.as_ref()?.guest(device));
        let (Some(device), Some(guest)) = (device, guest) else {
            self.room.handle(input, &mut self.world);
            return;
        };
        if guest.cut.is_some() {
            self.handle_cut(input);
            return;
        }
        match self.ask(device, Asked::Input(input.clone())) {
            None => {}
            Some(Ok(effects)) => {
                self.copy(input);
                self.act(device, &effects);
            }
            Some(Err(fault)) => {
                self.cut_now(device, fault);
                self.handle_cut(input);
            }
        }
    }

    pub(super) fn take_cut(&mut self, device: Device, fault: Fault) {
        let guest = self.world.outside.as_ref().and_then(|it| it.guest(device));
        if guest.is_some_and(|guest| guest.cut.is_none()) {
            self.world
                .begin(Origin::Power, || What::Power(device, false));
            self.cut_now(device, fault);
        }
    }

    pub(super) fn take_return(&mut self, device: Device) {
        let Some(outside) = &mut self.world.outside else {
            return;
        };
        let Some(fault) = outside.guest(device).and_then(|guest| guest.cut) else {
            return;
        };
        outside.guest_mut(device).cut = None;
        let input = Input::Power(device, true);
        self.world.begin(Origin::Power, || What::given(&input));
        self.world.note(who(device), Note::FaultEnded(fault));
        self.views.touch(&self.room, &input);
        self.handle_outside(input);
    }

    pub(super) fn take_words(&mut self, source: SourceId, payload: Payload) {
        let device = Device::Source(source);
        let guest = self.world.outside.as_ref().and_then(|it| it.guest(device));
        if guest.is_none_or(|guest| guest.cut.is_some()) {
            return;
        }
        let effect = Effect::Send(source, payload);
        if !effect.is_of(device, self.room.plan(), self.room.slots()) {
            self.take_cut(device, Fault::NodeRubbish);
            return;
        }
        self.world.origin = match payload {
            Payload::Down(button) | Payload::Up(button) => Origin::Button(source, button),
            Payload::Occupied { .. } => Origin::Motion(source),
            _ => Origin::Source(source),
        };
        self.world.cause = R::Cause::default();
        self.replay(&[effect]);
    }

    /// A device that is cut off is one without power, whatever happens to its room's power.
    fn handle_cut(&mut self, input: Input) {
        if !matches!(input, Input::Power(_, true)) {
            self.room.handle(input, &mut self.world);
        }
    }

    /// Asks a device outside; `None`: its answer has not come.
    fn ask(&mut self, device: Device, asked: Asked) -> Option<Answer> {
        let seen = self.seen(device, &asked);
        let at = self.world.now;
        let outside = self.world.outside.as_mut()?;
        outside.answer(Question {
            device,
            at,
            asked,
            seen,
            sequence: outside.sequence,
        })
    }

    /// The light that a sensor outside needs to know for this.
    fn seen(&self, device: Device, asked: &Asked) -> Illuminance {
        let Device::Source(id) = device else {
            return Illuminance::default();
        };
        let source = &self.room.plan().sources[usize::from(id.0)];
        let minds = match (&source.settings, asked) {
            (
                SourceSettings::Occupancy(settings),
                Asked::Input(Input::Stimulus(_, Stimulus::Motion)),
            ) => settings.hold_off.is_some(),
            (SourceSettings::Daylight(_), Asked::Input(Input::Elapsed(_))) => true,
            _ => false,
        };
        if minds {
            self.room.light(&source.light, &self.world)
        } else {
            Illuminance::default()
        }
    }

    /// Lets the copy of a device outside handle what the device has handled.
    fn copy(&mut self, input: Input) {
        let Some(outside) = &mut self.world.outside else {
            return;
        };
        outside.begin();
        if let Input::Elapsed(slot) = input
            && !outside.elapsed(slot)
        {
            return;
        }
        self.world.aside = true;
        self.room.handle(input, &mut self.world);
        self.world.aside = false;
    }

    /// A device outside acts; its copy has done so already.
    fn act(&mut self, device: Device, effects: &[Effect]) {
        let (plan, slots) = (self.room.plan(), self.room.slots());
        if !effects.iter().all(|it| it.is_of(device, plan, slots)) {
            self.cut_now(device, Fault::NodeRubbish);
            return;
        }
        self.replay(effects);
        let Some(outside) = &mut self.world.outside else {
            return;
        };
        let acts = |effect: &&Effect| effect.acts();
        let same = (effects.iter().filter(acts)).eq(outside.done.iter().filter(acts));
        if !same && !mem::replace(&mut outside.guest_mut(device).differs, true) {
            let note = Note::Fault(Fault::NodeDiffers);
            self.world.note(who(device), note);
        }
    }

    fn replay(&mut self, effects: &[Effect]) {
        for &effect in effects {
            match effect {
                Effect::Start(slot, span) => self.world.start(slot, span),
                Effect::Stop(slot) => self.world.stop(slot),
                Effect::Send(source, payload) => self.world.send(source, payload),
                Effect::Note(who, note) => self.world.note(who, note),
            }
        }
    }

    /// Cuts a device off: from here on it is one without power.
    fn cut_now(&mut self, device: Device, fault: Fault) {
        let Some(outside) = &mut self.world.outside else {
            return;
        };
        let guest = outside.guest_mut(device);
        guest.cut = Some(fault);
        let differed = mem::take(&mut guest.differs);
        if differed {
            let note = Note::FaultEnded(Fault::NodeDiffers);
            self.world.note(who(device), note);
        }
        self.world.note(who(device), Note::Fault(fault));
        let input = Input::Power(device, false);
        self.views.touch(&self.room, &input);
        if let Device::Controller(id) = device {
            self.world.bus.forget(id);
        }
        self.room.handle(input, &mut self.world);
        let slots = self.room.slots().owners().iter();
        let own = (0..)
            .zip(slots)
            .filter(|&(_, &it)| owner(it) == Some(device));
        for slot in own.map(|(slot, _)| room::Slot(slot)).collect::<Vec<_>>() {
            self.world.stop(slot);
            if let Some(outside) = &mut self.world.outside {
                outside.elapsed(slot);
            }
        }
    }
}
