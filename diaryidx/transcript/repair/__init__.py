"""Term repair by sound: misheard names and trade terms become what was meant; what was heard stays beside it."""

from diaryidx.transcript.repair.repairing import Repairer, build_repairer, repair

__all__ = ["Repairer", "build_repairer", "repair"]
