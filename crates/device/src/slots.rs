//! The named timer slots of a device, written once each: name, place and meaning.

/// Defines the timers of a device, in the order of their names (ORD-1).
macro_rules! slots {
    ($(#[$about:meta])* pub enum $Timer:ident { $($(#[$meaning:meta])* $Slot:ident = $name:literal,)+ }) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
        pub enum $Timer {
            $($(#[$meaning])* $Slot,)+
        }

        impl $Timer {
            /// Every timer, in order.
            pub const ALL: [Self; Self::COUNT as usize] = [$(Self::$Slot),+];

            /// How many timers the device has.
            pub const COUNT: u8 = [$($name),+].len() as u8;

            /// The place of the timer among those of its device.
            #[must_use]
            pub const fn number(self) -> u8 {
                self as u8
            }

            /// The timer at this place.
            #[must_use]
            pub fn from_number(number: u8) -> Option<Self> {
                Self::ALL.get(usize::from(number)).copied()
            }

            /// The name of the slot, by which timers of one instant are ordered (ORD-1).
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$Slot => $name,)+
                }
            }
        }
    };
}

pub(crate) use slots;
