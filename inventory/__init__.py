"""The working system of one lot that sells collector and custom vehicles on consignment."""
