"""What a flight's telemetry is and what it means: tables in, frozen records out.

Pure by rule: nothing here reads a file, writes a page or asks the clock. Start reading at
:mod:`analyser.core.channels` (the vocabulary) and :mod:`analyser.flight` (the one composition).
"""
