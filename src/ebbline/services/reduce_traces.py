"""Reduce trace files: all of them are read before anything is answered."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ebbline.core.breath.cycle import Cycle, Method, marker_channel
from ebbline.core.breath.dilution import Marker
from ebbline.core.breath.expiration import Expiration, expiration_of
from ebbline.core.breath.reading import Dilution
from ebbline.core.breath.reduce import reduce
from ebbline.core.breath.reduction import Reduction
from ebbline.core.breath.sensor import Sensors
from ebbline.core.breath.trace import Trace
from ebbline.core.errors import InputError
from ebbline.services.library import Library, QualityWords
from ebbline.services.ports import Instrument, InstrumentReader, RecordedTrace, TraceReader
from ebbline.services.prepare_cycle import (
    Said,
    choose_dilution,
    choose_sensors,
    switched_on_s,
)


@dataclass(frozen=True, slots=True, eq=False)
class ReducedTrace:
    """One trace, reduced, with all that it was reduced by.

    Parameters
    ----------
    engine : str
        Name and version of what computed it.
    file : str
        Name of the trace file; empty where it was not kept.
    facts, unused : mapping of str to str
        What the file's head said, and what of it is not known.
    invented : bool
        Whether the trace says that it is invented, or the profile does.
    instrument : str
        Name of the profile.
    sensors : mapping of channel name to Sensor
        Those used.
    dilution : Dilution
        References used.
    on_for_min : float or None
        How long the analyser had been on at time 0, min; None: not known, not judged.
    trace : Trace or None
        What was reduced; None where it was taken live.
    reduction : Reduction
        What came of it.
    expiration : Expiration or None
        What the blow was like; None where none was seen to pass, or it was not looked at.
    remarks : tuple of str
        What was left out, in sentences.
    words : QualityWords
        What each reason means and what to do, and the caution that belongs beside the reading.
    """

    engine: str
    file: str
    facts: Mapping[str, str]
    unused: Mapping[str, str]
    invented: bool
    instrument: str
    sensors: Sensors
    dilution: Dilution
    on_for_min: float | None
    trace: Trace | None
    reduction: Reduction
    expiration: Expiration | None
    remarks: tuple[str, ...]
    words: QualityWords

    @property
    def marker(self) -> Marker | None:
        """The marker gas that the alveolar fraction was told by: the first that has a value."""
        for marker in self.dilution.markers:
            if marker_channel(marker) in self.reduction.values:
                return marker
        return None


@dataclass(frozen=True, slots=True)
class ReduceTraces:
    """The use case, with what it needs from outside."""

    library: Library
    read_trace: TraceReader
    read_instrument: InstrumentReader

    def __call__(self, names: Sequence[str], *, profile: str, said: Said) -> list[ReducedTrace]:
        """Return one reduction a file, in the order given.

        Parameters
        ----------
        names : sequence of str
            Names of trace files.
        profile : str
            Name of the profile of the analyser that they came from.
        said : Said
            What a person gave beside them; it overrides the files' heads.

        Returns
        -------
        list of ReducedTrace

        Raises
        ------
        InputError
            If any file is refused; then nothing of the others is answered either.
        ProfileError
            If the profile is refused.
        """
        instrument = self.read_instrument(profile)
        dilution = choose_dilution(said.reference, self.library)
        records = [self.read_trace(name) for name in names]
        methods = [_method(record, said) for record in records]
        return [
            self._reduce(record, method, instrument, dilution, said)
            for record, method in zip(records, methods, strict=True)
        ]

    def _reduce(
        self,
        record: RecordedTrace,
        method: Method,
        instrument: Instrument,
        dilution: Dilution,
        said: Said,
    ) -> ReducedTrace:
        sensors, remarks = choose_sensors(instrument.sensors, record.trace.channels)
        on_for_min = record.on_for_min if said.on_for_min is None else said.on_for_min
        try:
            reduction = reduce(
                record.trace,
                sensors=sensors,
                method=method,
                settings=self.library.reduction,
                dilution=dilution,
                begun_s=record.begun_s if said.begun_s is None else said.begun_s,
                switched_on_s=switched_on_s(on_for_min),
            )
        except InputError as error:
            raise InputError(f"{record.file}: {error}") from error
        return ReducedTrace(
            engine=self.library.engine,
            file=record.file,
            facts=record.facts,
            unused=record.unused,
            invented=record.invented or instrument.invented,
            instrument=instrument.name,
            sensors=sensors,
            dilution=dilution,
            on_for_min=on_for_min,
            trace=record.trace,
            reduction=reduction,
            expiration=expiration_of(
                record.trace,
                reduction,
                Cycle(sensors, method, self.library.reduction, dilution),
                washout=self.library.washout,
                exhaled_no=self.library.exhaled_no,
                age_years=None,
            ),
            remarks=tuple(remarks),
            words=self.library.quality,
        )


def _method(record: RecordedTrace, said: Said) -> Method:
    """Return whether it is a blow or a bag, as a person or else the file says."""
    method = record.kind if said.method is None else said.method
    if method is None:
        raise InputError(
            f"{record.file}: it is not said whether a patient blew or a bag was emptied; allowed: "
            "a line '# kind: blow' or '# kind: bag' in the head, or --blow or --bag; came: neither"
        )
    return method
