"""missbook: short revision notes linked to the exam questions that were missed."""

__version__ = "0.1.0"
