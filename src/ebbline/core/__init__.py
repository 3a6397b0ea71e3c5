"""Pure computation: values in, values out. No file, clock, socket or hidden state."""
