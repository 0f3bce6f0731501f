"""Where lines of telemetry come from: serial ports, standard input, growing files, networks."""
