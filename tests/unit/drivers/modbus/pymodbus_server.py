"""An independent Modbus server (python3-pymodbus): usage: pymodbus_server.py tcp PORT | rtu PATH"""
import sys

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.server import StartSerialServer, StartTcpServer

try:
    from pymodbus.framer import FramerType  # Debian 13

    RTU = FramerType.RTU
except ImportError:
    from pymodbus.transaction import ModbusRtuFramer as RTU  # Debian 12

# -18.0, 84.5 in tenths; 100.0 as float32 ABCD and CDAB; an open input; 203.0 degF in tenths.
words = [0xFF4C, 845, 0x42C8, 0x0000, 0x0000, 0x42C8, 0x7FFF, 2030]


def unit(values):
    block = ModbusSequentialDataBlock(1, values)  # register 1 has address 0 on the wire
    return ModbusSlaveContext(hr=block, ir=block)


context = ModbusServerContext(slaves={1: unit(words), 7: unit([41] * 8)}, single=False)
if sys.argv[1] == "tcp":
    StartTcpServer(context=context, address=("127.0.0.1", int(sys.argv[2])))
else:
    StartSerialServer(context=context, framer=RTU, port=sys.argv[2], baudrate=9600, timeout=0.05)
