/* A captive card reader with a linger, a sensor and a lamp (CARD-1 to CARD-5). */
#include "../ticks.pml"

#define T 6
#define LINGER 2

bool inside;            /* a card is in the reader */
byte linger = IDLE;
bool in;              /* what the reader says: in, or out */
bool occupied, lamp, turned_off, by_eye;
byte delay = IDLE;
byte moved = LONG;
byte waits_2 = IDLE, waits_1 = IDLE;

active proctype room() {
  do
  :: atomic {
       pass(linger);
       pass(delay);
       pass(waits_2);
       pass(waits_1);
       age(moved);
       turned_off = false;
       by_eye = false;
       if
       :: inside -> inside = false; linger = LINGER;
          if
          :: !runs(waits_2) -> waits_2 = 2
          :: else
          fi;
          if
          :: !runs(waits_1) -> waits_1 = 1
          :: else
          fi
       :: !inside -> inside = true; waits_1 = IDLE; waits_2 = IDLE;
          if
          :: runs(linger) -> linger = IDLE
          :: else -> in = true; lamp = true
          fi
       :: skip
       fi;
       if
       :: delay = T; moved = 0;
          if
          :: !occupied -> occupied = true;
             if
             :: in && !lamp -> lamp = true; by_eye = true
             :: else
             fi
          :: else
          fi
       :: skip
       fi;
       if
       :: due(linger) -> linger = IDLE; in = false;
          if
          :: lamp -> lamp = false; turned_off = true
          :: else
          fi
       :: else
       fi;
       if
       :: due(delay) -> delay = IDLE; occupied = false;
          if
          :: lamp -> lamp = false; turned_off = true
          :: else
          fi
       :: else
       fi;
       if
       :: !lamp -> waits_1 = IDLE; waits_2 = IDLE
       :: else
       fi;
#ifdef C1
       assert(!(!in && lamp));
#endif
#ifdef C2
       assert(waits_2 != 0);
#endif
#ifdef C3
       assert(waits_1 != 0);
#endif
#ifdef C4
       assert(!by_eye);
#endif
#ifdef C5
       assert(!(turned_off && moved <= 5));
#endif
     }
  od
}
