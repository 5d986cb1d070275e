"""The workload on SimPy 4, in its two idioms: processes and callbacks.

    rooms_simpy.py processes|callbacks STIMULI

STIMULI is what `bench stimuli` writes: numbers of eight bytes, little-endian: how many rooms,
where the stimuli of each room end, then the stimuli, each its time shifted left by two and its
kind (0 motion, 1 sound, 2 press) in the two lowest bits.

Prints nanoseconds by the clock and on the processor, events, changes, checksum and peak KiB. Only building the model and running
it is timed.
"""

import array
import gc
import sys
import time

import simpy

DELAY_MS = 15 * 60_000
WINDOW_MS = 60 * 60_000
BUS_MS = 10
OCCUPIED, VACANT, TOGGLE = range(3)


class Work:
    """What was done, so that it can be shown to be the same work."""

    def __init__(self):
        self.events = 0
        self.changes = []


class Levels:
    """The controller's two outputs."""

    __slots__ = ("lights", "receptacle", "room", "work")

    def __init__(self, room, work):
        self.lights = self.receptacle = 0
        self.room = room
        self.work = work

    def take(self, now, message):
        self.work.events += 1
        lights, receptacle = self.lights, self.receptacle
        if message == OCCUPIED:
            lights, receptacle = lights or 50, 100
        elif message == TOGGLE:
            lights = 0 if lights else 100
        else:
            lights = receptacle = 0
        if lights != self.lights:
            self.lights = lights
            self.work.changes.append((now, self.room, 0, lights))
        if receptacle != self.receptacle:
            self.receptacle = receptacle
            self.work.changes.append((now, self.room, 1, receptacle))


class CallbackRoom:
    """One room: each thing that will happen is a timeout with a callback."""

    __slots__ = ("deadline", "env", "levels", "occupied", "position", "end", "stimuli", "window_end", "work")

    def __init__(self, env, number, stimuli, start, end, work):
        self.env = env
        self.work = work
        self.levels = Levels(number, work)
        self.stimuli = stimuli
        self.position = start
        self.end = end
        self.occupied = False
        self.deadline = self.window_end = 0
        if start < end:
            env.timeout(stimuli[start] >> 2).callbacks.append(self.stimulus)

    def stimulus(self, _event):
        env = self.env
        now = env.now
        self.work.events += 1
        position = self.position
        kind = self.stimuli[position] & 3
        self.position = position = position + 1
        if position < self.end:
            env.timeout((self.stimuli[position] >> 2) - now).callbacks.append(self.stimulus)
        if kind == 0:
            self.deadline = now + DELAY_MS
            self.window_end = now + WINDOW_MS
            if not self.occupied:
                self.occupied = True
                env.timeout(DELAY_MS).callbacks.append(self.elapsed)
                env.timeout(BUS_MS, OCCUPIED).callbacks.append(self.deliver)
        elif kind == 1:
            if self.occupied and now <= self.window_end:
                self.deadline = now + DELAY_MS
        else:
            env.timeout(BUS_MS, TOGGLE).callbacks.append(self.deliver)

    def elapsed(self, _event):
        now = self.env.now
        if now < self.deadline:
            self.env.timeout(self.deadline - now).callbacks.append(self.elapsed)
            return
        self.work.events += 1
        self.occupied = False
        self.env.timeout(BUS_MS, VACANT).callbacks.append(self.deliver)

    def deliver(self, event):
        self.levels.take(self.env.now, event.value)


class ProcessRoom:
    """One room: feed, sensor, switch and controller are processes that talk through stores."""

    def __init__(self, env, number, stimuli, start, end, work):
        self.env = env
        self.work = work
        self.sensor_inbox = simpy.Store(env)
        self.switch_inbox = simpy.Store(env)
        self.controller_inbox = simpy.Store(env)
        self.occupied = False
        self.deadline = 0
        env.process(self.feed(stimuli, start, end))
        env.process(self.sensor())
        env.process(self.switch())
        env.process(self.controller(Levels(number, work)))

    def feed(self, stimuli, start, end):
        env = self.env
        for position in range(start, end):
            timed = stimuli[position]
            yield env.timeout((timed >> 2) - env.now)
            kind = timed & 3
            inbox = self.switch_inbox if kind == 2 else self.sensor_inbox
            inbox.put(kind)

    def sensor(self):
        env = self.env
        window_end = 0
        while True:
            kind = yield self.sensor_inbox.get()
            self.work.events += 1
            if kind == 0:
                self.deadline = env.now + DELAY_MS
                window_end = env.now + WINDOW_MS
                if not self.occupied:
                    self.occupied = True
                    env.process(self.vacancy())
                    env.process(self.bus(OCCUPIED))
            elif self.occupied and env.now <= window_end:
                self.deadline = env.now + DELAY_MS

    def vacancy(self):
        env = self.env
        while env.now < self.deadline:
            yield env.timeout(self.deadline - env.now)
        self.work.events += 1
        self.occupied = False
        env.process(self.bus(VACANT))

    def switch(self):
        while True:
            yield self.switch_inbox.get()
            self.work.events += 1
            self.env.process(self.bus(TOGGLE))

    def bus(self, message):
        yield self.env.timeout(BUS_MS)
        self.controller_inbox.put(message)

    def controller(self, levels):
        while True:
            message = yield self.controller_inbox.get()
            levels.take(self.env.now, message)


def read(path):
    """The stimuli and, for each room, where its own end."""
    numbers = array.array("Q")
    with open(path, "rb") as file:
        numbers.frombytes(file.read())
    if sys.byteorder == "big":
        numbers.byteswap()
    rooms = numbers[0]
    return numbers[1 + rooms :], numbers[1 : 1 + rooms]


def checksum(changes):
    """FNV-1a 64 over the changes in order of time, room and output."""
    value = 0xCBF29CE484222325
    for now, room, output, level in sorted(changes):
        for byte in now.to_bytes(8, "little") + room.to_bytes(4, "little") + bytes((output, level)):
            value = (value ^ byte) * 0x100000001B3 & 0xFFFFFFFFFFFFFFFF
    return value


def peak_kib():
    """The most memory this process ever held, from the kernel (Linux)."""
    with open("/proc/self/status") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmHWM:"))


def main():
    idiom = {"processes": ProcessRoom, "callbacks": CallbackRoom}[sys.argv[1]]
    stimuli, ends = read(sys.argv[2])
    gc.collect()
    before, start = time.thread_time_ns(), time.perf_counter_ns()
    work = Work()
    env = simpy.Environment()
    first = 0
    rooms = []
    for number, end in enumerate(ends):
        rooms.append(idiom(env, number, stimuli, first, end, work))
        first = end
    env.run()
    elapsed, running = time.perf_counter_ns() - start, time.thread_time_ns() - before
    peak = peak_kib()
    print(elapsed, running, work.events, len(work.changes), f"{checksum(work.changes):016x}", peak)


if __name__ == "__main__":
    main()
