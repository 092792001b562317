"""The wire to the OLED, as luma speaks over it: I2C or SPI; imported only when a panel is opened."""

from __future__ import annotations

from contextlib import ExitStack
from typing import TYPE_CHECKING, Any, Final

from luma.core.interface.serial import i2c, spi

from hardware.board.table import ScreenPort
from hardware.drivers.pin_factory import SharedPins

if TYPE_CHECKING:
    from gpiozero import DigitalOutputDevice, Factory

HERTZ: Final = 8_000_000
"""Of SPI; both chips take 10 MHz at 3.3 V (a cycle of 100 ns, from memory of their data sheets)."""

RESET_SECONDS: Final = 0.001
"""The reset line is low for so long; both data sheets ask for some microseconds (from memory)."""

READY_SECONDS: Final = 0.02
"""From the end of the reset to the first command; modules with a slow supply need more than the chip."""


class LumaPins:
    """The few calls of RPi.GPIO that luma makes, over whichever pin library this machine has."""

    OUT: Final = 0
    LOW: Final = 0
    HIGH: Final = 1

    def __init__(self, factory: Factory) -> None:
        self._factory = factory
        self._lines: dict[int, DigitalOutputDevice] = {}

    def setup(self, pin: int, _mode: int) -> None:
        """Make a pin an output."""
        from gpiozero import DigitalOutputDevice  # noqa: PLC0415 - a computer without pins has no gpiozero

        if pin not in self._lines:
            self._lines[pin] = DigitalOutputDevice(pin, pin_factory=self._factory)

    def output(self, pin: int, value: int) -> None:
        """Set it high or low."""
        self._lines[pin].value = bool(value)

    def close(self) -> None:
        """Let all pins go."""
        while self._lines:
            self._lines.popitem()[1].close()


class Wire:
    """An open bus with its pins, which remembers the first command: that is how luma sets the chip up.

    Parameters
    ----------
    port
        Where the panel is.
    pins
        For SPI, which needs two pins beside its bus.
    """

    def __init__(self, port: ScreenPort, pins: SharedPins) -> None:
        self.first: tuple[int, ...] = ()
        self._held = ExitStack()
        with ExitStack() as held:
            self._bus = self._opened(port, pins, held)
            held.callback(self._bus.cleanup)
            self._held = held.pop_all()

    def command(self, *values: int) -> None:
        """Send commands."""
        self.first = self.first or values
        self._bus.command(*values)

    def data(self, values: list[int]) -> None:
        """Send pixels."""
        self._bus.data(values)

    def cleanup(self) -> None:
        """Let bus and pins go."""
        self._held.close()

    def forget(self) -> None:
        """Begin anew to wait for the first command."""
        self.first = ()

    @staticmethod
    def _opened(port: ScreenPort, pins: SharedPins, held: ExitStack) -> Any:  # noqa: ANN401 - luma has no types
        if port.interface == "i2c":
            return i2c(port=port.bus, address=port.address)
        lines = LumaPins(held.enter_context(pins.borrowed()))
        held.callback(lines.close)
        return spi(
            gpio=lines,
            port=0,  # the only bus of the header that our board file knows; its first chip select
            device=0,
            bus_speed_hz=HERTZ,
            gpio_DC=port.dc,
            gpio_RST=port.reset,
            reset_hold_time=RESET_SECONDS,
            reset_release_time=READY_SECONDS,
        )
