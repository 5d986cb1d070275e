/* Two sensors, a run-on and a warning (OCC-1, OCC-3, OCC-7, OUT-4, OUT-8 to OUT-10). */
#include "../ticks.pml"

#define T_EAST 6
#define T_WEST 12
#define RUN_ON 2
#define WARNING 2

bool east, west;                     /* what the sensors say */
byte east_delay = IDLE, west_delay = IDLE;
bool east_link, west_link;           /* what the links are */
byte run_on = IDLE, warning = IDLE;
mtype = { off, on, warns };
mtype lamp = off;
bool turned_off;
byte east_moved = LONG, west_moved = LONG;
byte warned;                         /* for how many ticks the lamp has warned, before now */

inline hold() {
  if
  :: lamp == warns -> warning = IDLE; lamp = on
  :: lamp == off -> lamp = on
  :: else
  fi
}

inline let_go() {
  if
  :: !east_link && !west_link && lamp == on -> lamp = warns; warning = WARNING
  :: else
  fi
}

active proctype room() {
  do
  :: atomic {
       pass(east_delay);
       pass(west_delay);
       pass(run_on);
       pass(warning);
       age(east_moved);
       age(west_moved);
       turned_off = false;
       if
       :: lamp == warns && warned < LONG -> warned++
       :: lamp != warns -> warned = 0
       :: else
       fi;
       if
       :: east_delay = T_EAST; east_moved = 0;
          if
          :: !east -> east = true; east_link = true; hold()
          :: else
          fi
       :: skip
       fi;
       if
       :: west_delay = T_WEST; west_moved = 0;
          if
          :: !west -> west = true; west_link = true; run_on = IDLE; hold()
          :: else
          fi
       :: skip
       fi;
       /* The sensors' timers, then those of the controller. */
       if
       :: due(east_delay) -> east_delay = IDLE; east = false; east_link = false; let_go()
       :: else
       fi;
       if
       :: due(west_delay) -> west_delay = IDLE; west = false; run_on = RUN_ON
       :: else
       fi;
       if
       :: due(run_on) -> run_on = IDLE; west_link = false; let_go()
       :: else
       fi;
       if
       :: due(warning) -> warning = IDLE; lamp = off; turned_off = true
       :: else
       fi;
#ifdef P1
       assert(!(turned_off && warned < 2));
#endif
#ifdef P2
       assert(!(turned_off && warned < 3));
#endif
#ifdef P3
       assert(!((east_moved == 16 && west_moved >= 16 || west_moved == 16 && east_moved >= 16) && lamp != off));
#endif
#ifdef P4
       assert(!((east_moved == 15 && west_moved >= 15 || west_moved == 15 && east_moved >= 15) && lamp != off));
#endif
#ifdef P5
       assert(!(lamp == warns && (east || west)));
#endif
#ifdef P6
       assert(!(turned_off && east_moved <= 8));
#endif
     }
  od
}
