//! Teach-in of links (LINK-1, LINK-2).

use super::state::Said;
use super::work::Work;
use super::{HeardKind, OutputTimer, Outside, Timer};
use crate::{Fault, Ignored, Note};

impl<F: Outside> Work<'_, F> {
    /// Opens a learning window at an output.
    pub(super) fn learn(&mut self, output: u8, remove: bool) {
        if !self.it.powered {
            return self.say(output, Note::Ignored(Ignored::NoPower));
        }
        self.out(output).learning = Some(remove);
        let window = self.settings.learning;
        self.start(output, OutputTimer::Learning, window);
        self.say(output, Note::Learning(true));
    }

    pub(super) fn stop_learning(&mut self, output: u8) {
        self.out(output).learning = None;
        self.say(output, Note::Learning(false));
    }

    /// A source sends its teach-in frame: every output that learns takes it.
    pub(super) fn teach(&mut self, heard: u8) {
        let mut learnt = false;
        for output in 0..self.output_count() {
            if let Some(remove) = self.out(output).learning {
                learnt = true;
                self.teach_output(heard, output, remove);
            }
        }
        if !learnt {
            self.fx.note(Note::Ignored(Ignored::NotLearning));
        }
    }

    fn teach_output(&mut self, heard: u8, output: u8, remove: bool) {
        let known = self.is_taught(heard);
        let pairs = (self.settings.links.iter()).zip(&self.it.links);
        let of_pair = pairs.filter(|(link, _)| link.output == output && link.heard == heard);
        let changes = of_pair.filter(|(_, state)| state.stored == remove).count();
        if changes == 0 {
            self.say(output, Note::Fault(Fault::TeachInRefused));
            return self.say(output, Note::Ignored(Ignored::SameWindow));
        }
        let table = usize::from(self.spec(output).table);
        if !remove && self.links_of(output).count() + changes > table {
            self.say(output, Note::Fault(Fault::TableFull));
            return self.say(output, Note::Ignored(Ignored::TableFull));
        }
        for link in 0..self.link_count() {
            let (spec, state) = self.link(link);
            if spec.output == output && spec.heard == heard && state.stored == remove {
                self.store(link, !remove);
            }
        }
        if remove {
            self.forget_source(heard, output);
        } else if !known {
            self.meet(heard);
        }
        self.say(output, Note::Taught(!remove));
        let window = self.settings.learning;
        self.start(output, OutputTimer::Learning, window);
        self.weigh_occupancy(output);
    }

    fn store(&mut self, link: u8, stored: bool) {
        let state = &mut self.it.links[usize::from(link)];
        state.stored = stored;
        state.occupied = false;
        if core::mem::take(&mut state.run_on) {
            self.fx.stop(Timer::RunOn(link));
        }
    }

    /// A pair has been removed: what the source held, limited or called for at the output ends.
    fn forget_source(&mut self, heard: u8, output: u8) {
        match self.settings.heard[usize::from(heard)].kind {
            HeardKind::Switch => {
                let owner = self.out(output).owner;
                let of_unit =
                    |button: u8| self.settings.buttons[usize::from(button)].heard == heard;
                if owner.is_some_and(of_unit) {
                    self.end_ramp(output);
                    self.forget_press(output);
                }
            }
            HeardKind::Daylight => self.lift_limit(output),
            HeardKind::Clock => self.end_sweep(output),
            HeardKind::NormalPower | HeardKind::FireAlarm => self.weigh_emergency(output),
            HeardKind::DemandResponse => self.end_shed(output),
            HeardKind::Occupancy | HeardKind::Card { .. } => {}
        }
        if !self.is_taught(heard) {
            self.fx.stop(Timer::Silence(heard));
            if core::mem::take(&mut self.it.heard[usize::from(heard)].lost) {
                self.fx.note(Note::FaultEnded(Fault::Lost));
            }
        }
    }

    /// A source heard for the first time is unknown until it reports.
    fn meet(&mut self, heard: u8) {
        self.believe(heard, Said::Unknown);
        self.listen_for(heard);
    }
}
