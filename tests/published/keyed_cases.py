"""SplitMix64: the stream that implementations of it are commonly tried against."""

SPLITMIX = (
    "Steele, Lea, Flood, 'Fast splittable pseudorandom number generators' (OOPSLA 2014); vectors from memory"
)
SEED = 1234567
FIRST_THREE = (6457827717110365317, 3203168211198807973, 9817491932198370423)
