/* A link on which a frame takes one tick (LINK-4). */
#include "../ticks.pml"

#define T 6

bool occupied, lamp, turned_off;
byte delay = IDLE;
byte frame;          /* what was sent a tick ago: 0 nothing, 1 occupied, 2 vacant */
byte arrives;
byte moved = LONG;
byte waits = IDLE;   /* ticks until a motion must have been answered */

active proctype room() {
  do
  :: atomic {
       pass(delay);
       pass(waits);
       age(moved);
       turned_off = false;
       arrives = frame;
       frame = 0;
       if
       :: arrives == 1 -> lamp = true
       :: arrives == 2 -> lamp = false; turned_off = true
       :: else
       fi;
       if
       :: delay = T; moved = 0;
          if
          :: !runs(waits) -> waits = 1
          :: else
          fi;
          if
          :: !occupied -> occupied = true; frame = 1
          :: else
          fi
       :: skip
       fi;
       if
       :: due(delay) -> delay = IDLE; occupied = false; frame = 2
       :: else
       fi;
       if
       :: lamp -> waits = IDLE
       :: else
       fi;
#ifdef F1
       assert(waits != 0);
#endif
#ifdef F2
       assert(!(turned_off && moved <= 6));
#endif
#ifdef F3
       assert(!(turned_off && moved <= 1));
#endif
#ifdef F4
       assert(!(moved == 7 && lamp));
#endif
#ifdef F5
       assert(!(moved == 6 && lamp));
#endif
     }
  od
}
